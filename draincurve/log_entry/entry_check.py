"""Checks that a log with a new row is read as before, and that the row is read as intended."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

import polars as pl

from draincurve.log_entry.drain_entry import AskedError, DrainEntry, EntryError, EntryRules
from draincurve.pipeline.reading import Log, check_log
from draincurve.pipeline.reading.cleaning import NAME_COLUMNS, OWN_COLUMNS, parsed_table, spelling_key
from draincurve.pipeline.reading.sources import LINE, SourceTable
from draincurve.schemas.columns import DRAINS, SIGNS
from draincurve.schemas.errors import SourceError

Question = tuple[int | None, str | None, str | None, str]
"""Line, column, value, and the question."""


def questions_about(
    entry: DrainEntry, *, before: SourceTable, after: SourceTable, line: int, rules: EntryRules
) -> tuple[str, ...]:
    """The questions about the new row of a log, and its signs that call for an inspection.

    before : the log, perhaps without rows, its lines numbered as in `after`
    after : the same with the new row, in the line `line`

    Raises EntryError where the row would be held back, would be read differently from what was given, or would change
    how another row is read, and AskedError where it raises a question, unless the rules allow that. A sign or a new
    name is no question that keeps the row out: it is written down, and said.
    """
    try:
        if after.frame.height != before.frame.height + 1:
            raise EntryError("not added: the log would not be read as one row more; look for a stray quotation mark")
        checked = check_log({"drains": after}, rules.settings, as_of=rules.as_of)
        earlier = check_log({"drains": before}, rules.settings, as_of=rules.as_of) if before.frame.height else None
    except SourceError as fault:
        raise EntryError(f"not added: {fault}") from fault
    _refuse_held_back(checked, earlier, line=line)
    _refuse_misread(entry, before=before, after=after, line=line, rules=rules)
    asked = _new_questions(checked, earlier, line=line)
    open_questions = tuple(_question_text(question, line) for question in asked if question[1] not in SIGNS)
    if open_questions and not rules.despite_questions:
        raise AskedError(open_questions, about_row=any(asks[0] == line and asks[1] not in SIGNS for asks in asked))
    said = {question[1:3] for question in asked}
    new = [name for name in _new_names(checked, line=line) if name not in said]
    texts = [f"{name} = {value}: is new in this log; is it spelt right?" for name, value in new]
    return (*(_question_text(question, line) for question in asked), *texts)


def _new_names(log: Log, *, line: int) -> list[tuple[str, str]]:
    """Column and name where no other row of the log has the new row's name; none in a log of one row."""
    drains = log.accepted["drains"]
    others, new = drains.filter(pl.col("line") != line), drains.filter(pl.col("line") == line)
    if others.is_empty() or new.is_empty():
        return []
    names = {name: new[name][0] for name in NAME_COLUMNS if new[name][0] is not None}
    return [(name, value) for name, value in names.items() if value not in others[name]]


def _refuse_held_back(checked: Log, earlier: Log | None, *, line: int) -> None:
    known = set() if earlier is None else set(earlier.held_back.get_column("line"))
    newly = checked.held_back.filter(~pl.col("line").is_in(sorted(known)))
    for row in newly.filter(pl.col("line") == line).iter_rows(named=True):
        raise EntryError(f"not added: {_reason_text(row)}")
    for row in newly.iter_rows(named=True):
        raise EntryError(f"not added: line {row['line']} would be held back with it: {_reason_text(row)}")


def _reason_text(row: Mapping[str, str]) -> str:
    """Why a row is held back; of cells that are empty each column with its reason."""
    if row["value"].strip("; "):
        return f"{row['column']} = {row['value']}: {row['reason']}"
    columns, reasons = row["column"].split("; "), row["reason"].split("; ")
    if len(columns) != len(reasons):
        return f"{row['column']}: {row['reason']}"
    return "; ".join(f"{column} {reason}" for column, reason in zip(columns, reasons, strict=True))


def _refuse_misread(
    entry: DrainEntry, *, before: SourceTable, after: SourceTable, line: int, rules: EntryRules
) -> None:
    """Compare the new row with the entry read on its own, and every other row with how it was read before."""
    is_new = after.frame.get_column(LINE) == line
    rows = parsed_table(after, rules.settings, as_of=rules.as_of).parsed.drop(OWN_COLUMNS)
    new, kept = rows.filter(is_new).row(0, named=True), rows.filter(~is_new)
    parsed = parsed_table(_alone(entry), rules.settings, as_of=rules.as_of).parsed.drop(OWN_COLUMNS)
    for name, value in parsed.row(0, named=True).items():
        read = new[name]
        if value is not None and not _same(name, value, read=read):
            raise EntryError(
                f"not added: {name} = {value} would be read as {'nothing' if read is None else read} in this log; "
                "write it with its unit, or a date as 2026-06-19"
            )
    if not before.frame.height:
        return
    others = parsed_table(before, rules.settings, as_of=rules.as_of).parsed.drop(OWN_COLUMNS)
    for name in others.columns:
        changed = others.get_column(name).is_not_null() & others.get_column(name).ne_missing(kept.get_column(name))
        if changed.any():
            where = before.frame.get_column(LINE).filter(changed)[0]
            raise EntryError(
                f"not added: {name} in line {where} would be read otherwise than before; write {name} in the form "
                "that the log has"
            )


def _alone(entry: DrainEntry) -> SourceTable:
    """The entry as a log of one row under the contract's names."""
    cells = {column.name: [entry.cells.get(column.name)] for column in DRAINS}
    frame = pl.DataFrame(cells, schema=dict.fromkeys(cells, pl.String))
    return SourceTable("drains", "entry", "", frame.with_columns(pl.lit(1, pl.Int64).alias(LINE)))


def _same(name: str, meant: Any, *, read: Any) -> bool:
    if name in NAME_COLUMNS and isinstance(read, str):
        return spelling_key(meant) == spelling_key(read)
    if isinstance(meant, float) and isinstance(read, float):
        return math.isclose(meant, read, rel_tol=1e-9)
    return bool(meant == read)


def _new_questions(checked: Log, earlier: Log | None, *, line: int) -> list[Question]:
    """Questions that were not asked before, those about the new row first.

    A question that differs from an earlier one only in its numbers is not new.
    """
    known = Counter(map(_without_counts, _questions(earlier)))
    new = []
    for question in _questions(checked):
        kind = _without_counts(question)
        if known[kind]:
            known[kind] -= 1
        else:
            new.append(question)
    return sorted(new, key=lambda question: (question[0] != line, question[0] or 0))


def _question_text(question: Question, line: int) -> str:
    where, column, value, message = question
    return (
        f"{'' if where in (None, line) else f'line {where}: '}{column or 'log'}"
        f"{'' if value is None else f' = {value}'}: {message}"
    )


def _questions(log: Log | None) -> list[Question]:
    if log is None:
        return []
    return list(log.asked.select("line", "column", "value", "message").iter_rows())


def _without_counts(question: Question) -> Question:
    line, column, value, message = question
    return line, column, value, message if line is not None else re.sub(r"\d+", "", message)
