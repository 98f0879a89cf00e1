"""An entry's cells in the format of the log: its decimal mark, units, form of dates and spelling of names."""

from __future__ import annotations

import re
from datetime import date

import polars as pl

from draincurve.log_entry.drain_entry import DrainEntry, EntryRules
from draincurve.pipeline.reading.cleaning import (
    NAME_COLUMNS,
    NUMERIC,
    TARGETS,
    DecimalMarks,
    MatchedTable,
    Order,
    common_spellings,
    decimal_marks,
    declared_order,
    file_marks,
    matched_table,
    read_dates,
    read_text,
    spelling_key,
    unit_factor,
)
from draincurve.pipeline.reading.sources import SourceTable
from draincurve.schemas.columns import Column, column_of

_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_THREE_PARTS = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})")
_PARTS = {"day first": "dmy", "month first": "mdy", "year first": "ymd"}
_MOST_DIGITS = 6


def log_cells(entry: DrainEntry, log: SourceTable, *, rules: EntryRules) -> dict[str, str]:
    """The entry's cells in the format of a log, for the columns that the log has.

    log : the table before the entry, perhaps without rows. ISO dates and plain numbers are converted to the log's
    format; everything else stays as given. Raises SourceError for headers that cannot be matched.
    """
    table = matched_table(log, rules.settings.headers)
    marks = file_marks(table)
    return {
        name: _cell(text, column_of("drains", name), table=table, marks=marks, rules=rules)
        for name, text in entry.cells.items()
        if name in table.frame.columns
    }


def _cell(text: str, column: Column, *, table: MatchedTable, marks: DecimalMarks, rules: EntryRules) -> str:
    texts = table.frame.get_column(column.name)
    if column.name in NAME_COLUMNS:
        return _as_spelt(text, texts)
    if column.kind == "date":
        declared = declared_order(table, column.name, settings=rules.settings)
        return _as_dated(text, texts, declared=declared, as_of=rules.as_of)
    if column.kind in NUMERIC:
        log_marks = decimal_marks(texts)
        unit = table.units.get(column.name)
        return _as_number(text, column, unit=unit, marks=marks if log_marks == DecimalMarks() else log_marks)
    return text


def _as_spelt(text: str, texts: pl.Series) -> str:
    """The log's spelling of a name that differs only in case, spaces or punctuation."""
    known = read_text(texts).drop_nulls()
    if not known.len():
        return text
    shown = common_spellings([known]).shown
    by_key = {spelling_key(spelling): spelling for spelling in shown.values()}
    return by_key.get(spelling_key(text), text)


def _as_number(text: str, column: Column, *, unit: str | None, marks: DecimalMarks) -> str:
    """A plain number in the contract's unit, converted to the header's unit and with the log's decimal mark."""
    if not _NUMBER.fullmatch(text) or _THOUSANDS.fullmatch(text.lstrip("+-")):
        return text
    number, suffix = text.replace(",", "."), ""
    factor = unit_factor(unit, column.kind).factor if unit is not None and column.kind in TARGETS else 1.0
    if factor is not None and factor != 1.0:
        converted = round(float(number) / factor, _MOST_DIGITS)
        if abs(converted * factor - float(number)) <= 1e-9 * abs(float(number)):
            number = f"{converted:.{_MOST_DIGITS}f}".rstrip("0").rstrip(".")
        else:
            suffix = f" {column.unit}"
    with_comma = marks.comma_decimal and not marks.dot_decimal
    return f"{number.replace('.', ',') if with_comma else number}{suffix}"


def _as_dated(text: str, texts: pl.Series, *, declared: Order | None, as_of: date) -> str:
    """An ISO date in the form of the log's last date, where the order of day and month is known."""
    written = texts.drop_nulls()
    last = _THREE_PARTS.fullmatch(written[-1].strip()) if written.len() else None
    if last is None or not _ISO_DATE.fullmatch(text):
        return text
    settled = read_dates(texts, declared, as_of=as_of).orders.get(last[2])
    order = settled.order if settled is not None else declared
    year_part = 1 if order == "year first" else 4
    if order is None or len(last[year_part]) != len("2026"):
        return text
    year, month, day = text.split("-")
    if not any(re.search(r"\b0\d", date_text) for date_text in written):
        month, day = str(int(month)), str(int(day))
    parts = {"y": year, "m": month, "d": day}
    return last[2].join(parts[letter] for letter in _PARTS[order])
