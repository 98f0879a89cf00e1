"""Questions and reasons in words: how many there are, and the commonest kinds with an example of each."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading import MOST_COMMON, CommonFinding, Log, common_findings
from draincurve.reports.content import wording

LONGEST_VALUE = 40
"""Letters of a cell that are shown with its reason."""


def asked_text(log: Log) -> str:
    """How many questions there are, about how many rows, and who is to answer them; empty where nothing is asked.

    Signs that are stated leave nothing to answer: those that no later drain cleared are among what is to inspect.
    """
    signs = log.stated_signs
    asked = log.asked.join(signs, on=log.asked.columns, how="anti", nulls_equal=True)
    questions, whole = asked.height, asked.get_column("line").null_count()
    rows = wording.counted(asked.drop_nulls("line").select("source", "line").n_unique(), "row")
    about = f"{wording.grouped(questions - whole)} on {rows}, {whole} on the whole log" if whole else f"on {rows}"
    if whole == questions:
        about = "on the whole log"
    return f"{wording.counted(questions, 'question')} to whoever wrote the log ({about})" if questions else ""


def accepted_text(log: Log) -> str:
    """What the accepted rows of drains count as."""
    accepted = log.accepted_drains
    parts = [
        wording.counted(accepted.drains, "drain"),
        *([wording.counted(accepted.second_ratings, "second rating")] if accepted.second_ratings else []),
        *([wording.counted(accepted.top_ups, "top-up")] if accepted.top_ups else []),
    ]
    return f"of {wording.grouped(sum(accepted))} accepted: {', '.join(parts)}"


def assumed_text(log: Log) -> str:
    """How many cells were read by an assumption, and of which columns; empty where none was."""
    counts = (
        log.assumed.group_by("column").agg(pl.col("cells").sum()).sort("cells", "column", descending=(True, False))
    )
    cells: dict[str, int] = dict(counts.iter_rows())
    columns = wording.listed([f"{column} ({wording.grouped(count)})" for column, count in cells.items()])
    where = f"in the {wording.plural(len(cells), 'column')} {columns}"
    return f"{wording.counted(sum(cells.values()), 'cell')} read by assumption, {where}" if cells else ""


def assumed_kinds(log: Log) -> tuple[str, ...]:
    """The commonest kinds of assumptions in words, and how many kinds are left out."""
    return kinds_text(common_findings(log.assumed), log, most=MOST_COMMON)


def problem_kinds(log: Log) -> tuple[CommonFinding, ...]:
    """All kinds of reasons and questions: those that call for an inspection first, then the commonest."""
    kinds = (*log.common_reasons, *common_findings(log.asked))
    return tuple(sorted(kinds, key=lambda kind: (not kind.urgent, -kind.count)))


def asked_kinds(log: Log) -> tuple[str, ...]:
    """The commonest kinds of questions in words, and how many kinds are left out."""
    return kinds_text(common_findings(log.asked), log, most=MOST_COMMON)


def kinds_text(kinds: tuple[CommonFinding, ...], log: Log, *, most: int) -> tuple[str, ...]:
    """The first kinds in words, and how many findings of other kinds there are, in which columns.

    The file is named where it is not the log itself. A last kind of one finding is shown itself.
    """
    main = log.accounts[0].source if log.accounts else ""
    most += len(kinds) == most + 1
    more = sum(kind.count for kind in kinds[most:])
    columns = list(dict.fromkeys(kind.column or "the whole row" for kind in kinds[most:]))
    others = (f"and {wording.grouped(more)} of other kinds: {wording.listed(columns)}",) if more else ()
    return (*(_kind_text(kind, main) for kind in kinds[:most]), *others)


def cell_text(column: str | None, value: str | None) -> str:
    """A cell as its column and what was typed; a long text is cut."""
    if value is None or not value.strip():
        return column or ""
    typed = value if len(value) <= LONGEST_VALUE else f"{value[:LONGEST_VALUE]}…"
    return f"{column} = {typed}" if column else typed


def line_text(line: int, unit_id: str | None, day: str | None) -> str:
    """A line with what it is about, such as `line 4 (F01, 2026-03-04)`."""
    about = ", ".join(part for part in (unit_id, day) if part)
    return f"line {line} ({about})" if about else f"line {line}"


def _kind_text(kind: CommonFinding, main: str) -> str:
    """One kind, such as `3 times, first in line 4 (F01, 2026-03-04): oil_hours = 750: is over 200 h`."""
    times = f"{wording.grouped(kind.count)} times" if kind.count > 1 else ""
    line = "" if kind.line is None else line_text(kind.line, kind.unit_id, kind.day)
    where = f"first in {line}" if times and line else line
    if kind.source != main:
        where = f"{where} of {kind.source}" if where else kind.source
    if times and not line:
        times = f"{times}, such as"
    before = ", ".join(part for part in (times, where) if part)
    return ": ".join(part for part in (before, cell_text(kind.column, kind.value), kind.message) if part)
