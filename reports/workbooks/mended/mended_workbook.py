"""A log written back as a workbook to mend, which can be read again as the log that it was."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import polars as pl

from draincurve.pipeline.reading import Log
from draincurve.pipeline.reading.cleaning import GivenHeaders
from draincurve.pipeline.reading.sources import SourceTable
from draincurve.reports.content.settings_block import NO_SETTING, how_to_use, settings_block
from draincurve.reports.workbooks.mended.mended_sheet import Marks, NameMarks, mark_styles, write_sheet
from draincurve.reports.workbooks.xlsx_text import new_workbook, text_format, write_text
from draincurve.schemas.errors import SourceError

MOST_ROWS = 100_000
"""Rows of a log that is written back; nobody mends a longer one by hand, and the file would take minutes."""
SETTINGS_SHEET = "settings"
_LONGEST_NAME = 31
"""Letters of a sheet's name. Source: Microsoft, Excel specifications and limits."""
_NOT_IN_NAMES = re.compile(r"[\[\]:*?/\\\x00-\x1f]+")
_MARKS_MEAN = (
    "# Marks in the other sheets: the cells of a row that was held back are orange and in bold, those that are asked",
    "# about blue and in italics; the first columns say why, and what the cell may have meant. Correct the cells and",
    "# run `draincurve check` on this workbook. The columns that begin with 'draincurve:' are not read as the log's.",
    "# A proposal counts once it is typed into its cell; yes under 'confirmed' keeps the row as its cells stand.",
)


def write_mended_workbook(
    path: Path, tables: Mapping[str, SourceTable], log: Log, *, given: GivenHeaders | None
) -> None:
    """Writes every table of a log, row by row as it was read, and the settings that would answer questions.

    tables : as read, of which `log` is the outcome.  given : headers from the settings.  Raises SourceError for a log
    with too many rows and OSError where the file cannot be written.
    """
    rows = sum(table.frame.height for table in tables.values())
    if rows > MOST_ROWS:
        raise SourceError(
            f"{path}: the log has {rows:,} rows, over the {MOST_ROWS:,} that a workbook is written for; "
            "use --out FOLDER: its held_back.csv holds every row held back"
        )
    marks = _marks(log)
    with new_workbook(path, as_of=log.as_of, title="Log to mend") as book:
        styles = mark_styles(book)
        names, taken = _asked_names(log), {SETTINGS_SHEET}
        for table in tables.values():
            for name, part in _sheets(table):
                sheet = book.add_worksheet(_free_name(name, taken))
                write_sheet(sheet, part, marks, names=names, styles=styles, given=given)
        _write_settings(book, log)


def _marks(log: Log) -> Marks:
    """Reasons and questions of each row, by its source and line."""
    marks: Marks = {}
    for row in pl.concat([log.reasons, log.asked]).drop_nulls("line").iter_rows(named=True):
        marks.setdefault((row["source"], row["line"]), []).append(row)
    return marks


def _asked_names(log: Log) -> NameMarks:
    """Questions about a name wherever it is in the log, by its column and the name; the proposal is the setting's."""
    marks: NameMarks = {}
    for row in (
        log.asked.filter(pl.col("line").is_null()).drop_nulls(["column", "value", "setting"]).iter_rows(named=True)
    ):
        words = tomllib.loads(row["setting"]).get("words", {}).get(row["column"], {})
        if row["value"] in words:
            marks[row["column"], row["value"]] = {**row, "proposal": words[row["value"]] or None}
    return marks


def _sheets(table: SourceTable) -> Iterator[tuple[str, SourceTable]]:
    """The sheets of a table with their names: one named as the table, or one for each file or sheet that was read."""
    if table.table != "drains" or not table.parts:
        yield table.table, table
        return
    for part in table.parts:
        within = re.search(r"\[(.*)\]$", part.source)
        yield within[1] if within else Path(part.source).stem, part


def _free_name(name: str, taken: set[str]) -> str:
    """A name that a sheet may have and that no other has."""
    plain = _NOT_IN_NAMES.sub(" ", name).strip(" '")[:_LONGEST_NAME] or "log"
    free, count = plain, 1
    while free.casefold() in taken:
        count += 1
        free = f"{plain[: _LONGEST_NAME - 1 - len(str(count))]} {count}"
    taken.add(free.casefold())
    return free


def _write_settings(book: Any, log: Log) -> None:
    """The sheet whose first column is a settings file, with the questions about the whole log as comments."""
    page = book.add_worksheet(SETTINGS_SHEET)
    page.set_column(0, 0, 110)
    page.hide_gridlines(2)
    style = text_format(book, {"font_name": "Consolas"})
    block = settings_block(log)
    asked = log.asked.filter(pl.col("line").is_null()).get_column("message").unique(maintain_order=True)
    questions = (
        ("", "# Asked about the whole log:", *(f"# {_one_line(text)}" for text in asked)) if asked.len() else ()
    )
    lines = (*_MARKS_MEAN, *questions, "", *((*how_to_use(block), "", *block) if block else (NO_SETTING,)))
    for row, line in enumerate(lines):
        if line:
            write_text(page, line, row=row, column=0, style=style)


def _one_line(text: str) -> str:
    return " ".join(text.split())
