"""The header among the first rows: titles above it, rows above it, rows that look like one."""

import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.header_row import header_row, no_columns, title_notes
from draincurve.schemas.settings import Settings

COLUMNS_OF = header_columns(Settings())
HEADER = ["Unit", "Date", "Hours", "Oil", "Colour", "Debris", "Spring", "Rider"]
ROW = ["F07", "2026-03-04", "12", "5W", "2", "3", "hard", "AB"]


@pytest.mark.parametrize(
    ("above", "titles", "strays"),
    [
        ([], (), ()),
        ([["Fork log 2026"]], (0,), ()),
        ([["Fork log", "", "", ""], ["printed", "3 March"], ["Rider"]], (0, 1, 2), ()),
        ([["Unit", "", "", "Oil", "", "", "", ""]], (0,), ()),
        ([["Fork log"], ROW], (0,), (1,)),
    ],
)
def test_header_below_titles(above, titles, strays):
    found = header_row([*above, HEADER, ROW, ROW], "drains", COLUMNS_OF)
    assert (found.position, found.titles, found.strays) == (len(above), titles, strays)
    assert found.is_of_a_log


def test_a_repeated_header_does_not_win():
    assert header_row([HEADER, ROW, HEADER, ROW], "drains", COLUMNS_OF).position == 0


def test_past_thirty_rows_nothing_is_looked_for():
    titles = [[f"title {number}"] for number in range(30)]
    assert header_row([*titles, HEADER, ROW], "drains", COLUMNS_OF).position == 0
    assert header_row([*titles[1:], HEADER, ROW], "drains", COLUMNS_OF).position == 29


def test_without_two_known_headers_the_first_row_is_the_header():
    unknown = ["Gabelnummer", "Wann", "Wie lange"]
    assert header_row([unknown, ["oil", "5", "3"], ["F1", "x", "y"]], "drains", COLUMNS_OF).position == 0
    assert header_row([["title"], HEADER], "drains", no_columns).position == 0


def test_a_sheet_without_ratings_is_no_log():
    assert not header_row([["unit", "date", "hours"]], "drains", COLUMNS_OF).is_of_a_log


def test_note_about_titles():
    assert title_notes([]) == ()
    assert title_notes([(1, ["", " Fork log "])]) == ("line 1 is a title above the header ('Fork log'), not a row",)
    (note,) = title_notes([(1, ["x" * 99]), (4, ["y"])])
    assert note.startswith("lines 1 to 4 are titles above the header ('xxx")
    assert len(note) < 130
