"""Totals, repeated headers and titles inside a table are no rows."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.headers import matched_table
from draincurve.pipeline.reading.cleaning.row_kinds import (
    BELOW_OTHER_HEADER,
    LONGEST_TITLE,
    OTHER_HEADER,
    REPEATED_HEADER,
    TITLE,
    TOTAL,
    WHOLE_ROW,
    lines_that_are_no_rows,
)
from draincurve.pipeline.reading.sources.source_table import SourceTable

HEADERS = ("Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Rider", "Note", "Place")
ROW = ("F01", "2026-03-04", "12", "Fork 5", "2", "Plain", "Brask", None, None)


def line(**cells: str) -> tuple[str | None, ...]:
    return tuple(cells.get(name) for name in HEADERS)


def reasons(*rows: tuple[str | None, ...], headers: tuple[str, ...] = HEADERS, table: str = "drains") -> list:
    frame = pl.DataFrame(rows, schema=dict.fromkeys(headers, pl.String), orient="row")
    source = SourceTable(table, "log.csv", "", frame.with_columns(_line=pl.int_range(2, len(rows) + 2)))
    found = lines_that_are_no_rows(source, matched_table(source))
    by_row = dict(found.select("_row", "reason").iter_rows())
    return [by_row.get(row) for row in range(len(rows))]


@pytest.mark.parametrize(
    "text",
    [
        *("Total", "TOTAL:", "Totals", "Grand total", "Sub-total", "Sum", "Average", "Total 2025", "Total hours"),
        *("Summe", "Gesamt", "Zwischensumme", "Mittelwert", "Somme", "Sous-total", "Total général", "Moyenne"),
        *("Suma", "Promedio", "Totale", "Somma", "Σ", "Ø"),
    ],
)
def test_totals(text: str) -> None:
    assert reasons(ROW, line(Unit=text, Hours="312.5")) == [None, TOTAL]
    assert reasons(ROW, line(Date=text, Hours="312.5")) == [None, TOTAL]
    assert reasons(ROW, line(Unit=text, Hours="312.5", Colour="2.6", Oil="-")) == [None, TOTAL]


@pytest.mark.parametrize("text", ["2025", "Team A", "Saison 2025:", "March 2026", "--------", "** Forks **"])
def test_titles(text: str) -> None:
    assert reasons(ROW, line(Unit=text), ROW) == [None, TITLE, None]
    assert reasons(ROW, line(Date=text), ROW) == [None, TITLE, None]


@pytest.mark.parametrize(("mark", "name"), [("\t", "tabs"), (";", "semicolons"), (",", "commas"), ("|", "bars")])
def test_a_whole_row_in_one_cell_is_no_title(mark: str, name: str) -> None:
    whole = mark.join(cell or "" for cell in ROW)
    assert reasons(ROW, line(Unit=whole), ROW) == [None, WHOLE_ROW.format(name), None]
    with_commas = mark.join(["F01", "2026-03-04", "12,5", "Fork 5", "2,5", "Plain"])
    assert reasons(ROW, line(Unit=with_commas)) == [None, WHOLE_ROW.format("commas" if mark == "," else name)]


def test_a_title_is_short_and_of_few_parts() -> None:
    assert reasons(ROW, line(Unit="Brask, Ondell and Veyra, 2026")) == [None, TITLE]
    assert reasons(ROW, line(Unit="x" * LONGEST_TITLE), line(Unit="x" * LONGEST_TITLE + "x")) == [None, TITLE, None]


def test_repeated_headers() -> None:
    assert reasons(ROW, HEADERS, ROW, tuple(name.upper() for name in HEADERS)) == [
        None, REPEATED_HEADER, None, REPEATED_HEADER,
    ]  # fmt: skip
    assert reasons(ROW, (*HEADERS[:7], None, None)) == [None, REPEATED_HEADER]


@pytest.mark.parametrize(
    "row",
    [
        ("Total", *ROW[1:]),
        ("Summe", *ROW[1:]),
        line(Unit="F01"),
        line(Unit="F01", Hours="12"),
        line(Hours="12"),
        line(Note="seal wet"),
        line(Unit="F02", Hours="12", Oil="Fork 5", Rider="Brask"),
        line(Unit="Totally new", Hours="3"),
        line(Unit="Team A", Note="flakes in the last drain"),
        line(Unit="2025-03-04", Date="F01", Hours="12"),
    ],
)
def test_a_row_that_is_only_unfinished_is_a_row(row: tuple) -> None:
    assert reasons(ROW, row) == [None, None]


def test_a_register_may_have_a_unit_alone_but_no_repeated_header() -> None:
    headers = ("unit_id", "site", "machine")
    rows = [("F01", None, None), ("Total", None, None), headers, ("F02", "Mill", "7")]
    assert reasons(*rows, headers=headers, table="units") == [None, None, REPEATED_HEADER, None]


@pytest.mark.parametrize(
    "other",
    [
        ("Unit", "Date", "Hours", "Colour", "Oil", *HEADERS[5:]),
        ("Unit", "Date", "Minutes", *HEADERS[3:]),
        ("Unit", "Date", "Hours (min)", *HEADERS[3:]),
        ("Rider", "Note", "Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Place"),
        ("Place", *HEADERS[:-1]),
    ],
)
def test_rows_below_another_header_are_held_back_up_to_the_next_that_is_equal(other: tuple[str, ...]) -> None:
    below = BELOW_OTHER_HEADER.format(3)
    rows = [ROW, other, ROW, line(Unit="Total", Hours="12"), ROW, HEADERS, ROW]
    assert reasons(*rows) == [None, OTHER_HEADER, below, TOTAL, below, REPEATED_HEADER, None]


def test_a_header_in_other_words_is_equal() -> None:
    words = ("Gabel", "Datum", "Oil hours", "Oil", "Color", "Spring", "Rider", "Note", "Place")
    assert reasons(words, ROW) == [REPEATED_HEADER, None]
