"""Text cells of a workbook: shown as they came, never run, never breaking the file."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import fastexcel
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from draincurve.reports.workbooks.xlsx_text import LONGEST_TEXT, fitted, new_workbook, text_format, write_text


def written(folder: Path, texts: list[str]) -> Path:
    path = folder / "t.xlsx"
    with new_workbook(path, as_of=date(2026, 6, 20), title="texts") as book:
        sheet, look = book.add_worksheet("texts"), text_format(book, {})
        for row, text in enumerate(texts):
            write_text(sheet, text, row=row, column=0, style=look)
    return path


ACTIVE = ["=1+1", "+1+1", "-2+3", "@SUM(A1)", "\t=1+1", "\r=1", " =1", "＝1+1", "|calc", "%0A=1", "=HYPERLINK(A1)"]
PLAIN = [
    "F07",
    "-5",
    "a=b",
    "https://shop.invalid/x",
    "mailto:a@b.invalid",
    "<b>",
    "🏁",
    "ش-٠٧",
    "'=1",
    "0012",
    "1e5",
]


@pytest.mark.parametrize("text", ACTIVE + PLAIN)
def test_text_is_text_and_stays_what_it_was(tmp_path: Path, text: str) -> None:
    """Source: OWASP, CSV Injection, for the characters; ECMA-376 part 1, 18.8.45 (quotePrefix) and 18.18.11 (cell
    types): a cell of type s is text, one of type str or with an f element would be a formula."""
    path = written(tmp_path, [text])
    cell = openpyxl.load_workbook(path)["texts"]["A1"]
    assert cell.data_type == "s"
    assert cell.hyperlink is None
    assert str(cell.value).replace("_x000D_", "\r").replace("_x0009_", "\t") == text
    assert cell.quotePrefix == (text in ACTIVE), "editing the cell must not turn it into a formula"
    xml = zipfile.ZipFile(path).read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in xml
    assert b't="s"' in xml


@pytest.mark.parametrize("text", ["<r><evil></r>", "<r></r>", "<r><t>x</t></r>", "<r>a & b</r>"])
def test_text_that_looks_like_the_writers_own_markup_breaks_nothing(tmp_path: Path, text: str) -> None:
    path = written(tmp_path, [text, "after"])
    sheet = openpyxl.load_workbook(path)["texts"]
    assert [sheet["A1"].value, sheet["A2"].value] == [text, "after"]


@settings(max_examples=25, deadline=None)
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20), min_size=1, max_size=5))
def test_any_text_comes_back_from_another_reader(tmp_path_factory: pytest.TempPathFactory, texts: list[str]) -> None:
    path = written(tmp_path_factory.mktemp("any"), ["first", *texts, "last"])
    sheet = fastexcel.read_excel(path).load_sheet(0, header_row=None, skip_rows=0, dtypes="string")
    assert sheet.to_polars().to_series().to_list() == ["first", *texts, "last"]


@pytest.mark.parametrize("mark", ["a", "🏁"])
def test_a_text_longer_than_a_cell_is_cut_and_shows_it(mark: str) -> None:
    """Source: Microsoft, Excel specifications and limits: 32,767 characters in a cell, counted in UTF-16."""
    kept = fitted(mark * 40_000)
    assert kept.endswith("…")
    assert len(kept.encode("utf-16-le")) // 2 in (LONGEST_TEXT, LONGEST_TEXT - 1)
    assert kept[:-1] == mark * (len(kept) - 1)
    assert fitted("a" * LONGEST_TEXT) == "a" * LONGEST_TEXT
