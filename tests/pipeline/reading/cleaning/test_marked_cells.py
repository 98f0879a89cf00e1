"""Cells with a comment, with a line through them, or merged over several columns: asked about, and never trusted."""

import re
from datetime import date

import openpyxl
import polars as pl
import pytest
import xlsxwriter
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.comments import Comment
from openpyxl.styles import Font

from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings

HEADER = ["Unit", "Date", "Hours", "Oil", "Colour", "Debris", "Spring", "Rider", "Filled ml", "confirmed"]
STRUCK = Font(strike=True)


@pytest.fixture
def book(tmp_path):
    """A log in lines 2 to 9; its sheet, and a way to read it."""
    found = openpyxl.Workbook()
    sheet = found.active
    sheet.append(HEADER)
    for day in range(1, 9):
        sheet.append(["F1", date(2026, 3, day), 12, "Fork 5", 3 - day % 2, 2 - day % 2, "Plain", "Brask", 400])

    def check(path=tmp_path / "log.xlsx"):
        found.save(path)
        return read(RunInputs(source_address(str(path)), date(2026, 6, 1)), Settings())

    return sheet, check


def drain(log, line):
    return log.accepted["drains"].filter(pl.col("line") == line).row(0, named=True)


def only(findings):
    assert findings.height == 1, findings
    return findings.row(0, named=True)


@pytest.mark.parametrize("words", ["wrong, really 12 h", "Meier:\nask me", "12 oder 21?", "it's 'so'"])
def test_a_comment_on_hours_leaves_them_open(book, words):
    sheet, check = book
    sheet["C4"].comment = Comment(words, "Meier")
    log = check()
    asked = only(log.asked)
    assert (asked["line"], asked["column"], asked["value"]) == (4, "oil_hours", "12")
    assert "comment on the cell: " + " ".join(words.split()) in asked["message"]
    assert drain(log, 4)["hours_in_question"]
    assert drain(log, 4)["cautious_hours"] is None
    assert not drain(log, 5)["hours_in_question"]


@pytest.mark.parametrize(("cell", "ends"), [("E4", (2, 5)), ("F4", (None, None))])
@pytest.mark.parametrize("mark", ["comment", "struck"])
def test_a_marked_rating_says_no_more_than_is_safe(book, cell, ends, mark):
    sheet, check = book
    if mark == "comment":
        sheet[cell].comment = Comment("looked darker", "M")
    else:
        sheet[cell].font = STRUCK
    log = check()
    channel = "colour" if cell == "E4" else "debris"
    assert (drain(log, 4)[f"{channel}_low"], drain(log, 4)[f"{channel}_high"]) == ends
    assert only(log.asked)["column"] == f"{channel}_rating"
    sheet["J4"] = "yes"
    log = check()
    assert log.asked.height == 0
    assert drain(log, 4)[f"{channel}_high"] in (1, 2)


def test_a_comment_on_words_is_a_note_and_one_elsewhere_is_counted(book):
    sheet, check = book
    sheet["H4"].comment = Comment("his brother rode", "M")
    sheet["C1"].comment = Comment("on the oil, not on the meter", "M")
    sheet["L7"].comment, sheet["B40"].comment = Comment("x", "M"), Comment("y", "M")
    log = check()
    assert log.asked.height == 0
    notes = log.remarks.get_column("message").to_list()
    assert "comment: his brother rode" in notes
    assert "comment on the header 'Hours': on the oil, not on the meter" in notes
    assert "2 comments beside the log's columns not read" in notes


@pytest.mark.parametrize("lines", [[4], [2, 3], [9]])
@pytest.mark.parametrize("columns", ["ABCDEFGHI", "ABCDEFGHIJKL"])
def test_a_struck_row_is_held_back(book, lines, columns):
    sheet, check = book
    for line in lines:
        for column in columns:
            sheet[f"{column}{line}"].font = STRUCK
    log = check()
    assert log.held_back["line"].to_list() == lines
    assert set(log.reasons["message"]) == {"the row is struck through: delete it, or remove the line through it"}
    assert log.asked.height == 0


@pytest.mark.parametrize("cell", ["A4", "B4"])
def test_a_struck_unit_or_date_holds_back_its_row(book, cell):
    sheet, check = book
    sheet[cell].font = STRUCK
    log = check()
    assert log.held_back["line"].to_list() == [4]
    assert only(log.reasons)["message"].startswith("struck through: what is valid?")


def test_struck_cells_are_asked_about_and_unknown(book):
    sheet, check = book
    sheet["C4"].font = sheet["I5"].font = sheet["G6"].font = Font(name="Arial", b=True, strike=True)
    sheet["C7"].font = Font(strike=False)
    log = check()
    assert [(row["line"], row["column"]) for row in log.asked.sort("line").iter_rows(named=True)] == [
        (4, "oil_hours"),
        (5, "filled_ml"),
        (6, "spring_type"),
    ]
    assert drain(log, 4)["hours_in_question"]
    assert drain(log, 5)["filled_ml"] is None


@pytest.mark.parametrize("as_inline", [True, False])
@pytest.mark.parametrize("parts", [("1", "2"), ("", "12"), ("12", "")])
def test_text_of_which_a_part_is_struck_is_asked_about(tmp_path, parts, as_inline):
    path = tmp_path / "log.xlsx"
    gone, kept = parts
    with xlsxwriter.Workbook(path, {"constant_memory": as_inline}) as file:
        sheet, line, plain = file.add_worksheet("Log"), file.add_format({"font_strikeout": True}), file.add_format()
        sheet.write_row(0, 0, HEADER)
        for row in range(1, 8):
            sheet.write_row(row, 0, ["F1", f"2026-03-0{row}"])
            if row == 3 and gone:
                runs = [line, gone, plain, kept or "h"] if kept else [line, gone[:1], line, gone[1:]]
                sheet.write_rich_string(row, 2, *runs)
            else:
                sheet.write(row, 2, 12)
            sheet.write_row(row, 3, ["Fork 5", 3 - row % 2, 2 - row % 2, "Plain", "Brask"])
    log = read(RunInputs(source_address(str(path)), date(2026, 6, 1)), Settings())
    if not gone:
        assert log.asked.height == 0
        return
    asked = only(log.asked)
    assert (asked["line"], asked["column"]) == (4, "oil_hours")
    assert asked["message"].startswith("struck through in part: " if kept else "struck through: ")
    assert drain(log, 4)["hours_in_question"]


@pytest.mark.parametrize(("cells", "named"), [("E4:F4", ["debris_rating"]), ("G4:I4", ["rider", "filled_ml"])])
def test_a_cell_merged_over_columns_counts_for_the_first(book, cells, named):
    sheet, check = book
    sheet.merge_cells(cells)
    log = check()
    found = pl.concat([log.asked, log.reasons]).filter(pl.col("message").str.starts_with("merged with"))
    assert set(found["column"]) == set(named)
    first = "Colour" if cells == "E4:F4" else "Spring"
    assert all(message.startswith(f"merged with '{first}', whose value") for message in found["message"])
    if cells == "E4:F4":
        assert (drain(log, 4)["debris_low"], drain(log, 4)["colour_low"]) == (None, 2)


@pytest.mark.parametrize(("cells", "line"), [("D4:F4", 4), ("B6:C6", 6)])
def test_a_row_that_a_merged_cell_leaves_short_says_why(book, cells, line):
    sheet, check = book
    sheet.merge_cells(cells)
    log = check()
    assert log.held_back["line"].to_list() == [line]
    assert any(message.startswith("merged with") for message in log.reasons["message"])


def test_merged_over_rows_and_columns(book):
    sheet, check = book
    sheet.merge_cells("E4:F6")
    log = check()
    assert log.asked["line"].to_list() == [4, 5, 6]
    assert [drain(log, line)["colour_low"] for line in (4, 5, 6, 7)] == [2, 2, 2, 3]
    assert [drain(log, line)["debris_low"] for line in (4, 5, 6, 7)] == [None, None, None, 2]


def test_a_title_merged_over_the_table_is_no_question(book):
    sheet, check = book
    sheet.insert_rows(5)
    sheet["A5"] = "Spring 2026"
    sheet.merge_cells("A5:J5")
    log = check()
    assert log.asked.height == 0
    assert log.faulty_count == 0


def test_answers_to_a_comment_are_read_with_it(book, tmp_path):
    """A comment that can be answered has its words in a part of its own."""
    import zipfile

    sheet, check = book
    sheet["C4"].comment = Comment("[Threaded comment]\n\nYour version cannot show it.", "tc")
    check()
    path = tmp_path / "threads.xlsx"
    with zipfile.ZipFile(tmp_path / "log.xlsx") as old, zipfile.ZipFile(path, "w") as new:
        for item in old.namelist():
            content = old.read(item)
            if item == "xl/worksheets/_rels/sheet1.xml.rels":
                kind = "http://schemas.microsoft.com/office/2017/10/relationships/threadedComment"
                link = f'<Relationship Id="t1" Type="{kind}" Target="../threadedComments/threadedComment1.xml"/>'
                content = re.sub(rb"</Relationships>", link.encode() + b"</Relationships>", content)
            new.writestr(item, content)
        said = "".join(f'<threadedComment ref="C4"><text>{text}</text></threadedComment>' for text in ("12?", "yes"))
        new.writestr("xl/threadedComments/threadedComment1.xml", f"<ThreadedComments>{said}</ThreadedComments>")
    log = read(RunInputs(source_address(str(path)), date(2026, 6, 1)), Settings())
    assert "comment on the cell: 12? / yes. " in only(log.asked)["message"]


def test_a_struck_ride_counts_as_unknown_hours(book, tmp_path):
    sheet, check = book
    usage = sheet.parent.create_sheet("usage")
    for row in (["unit_id", "date", "hours"], ["F1", date(2026, 3, 10), 3], ["F1", date(2026, 3, 11), 3]):
        usage.append(row)
    usage["C2"].font = STRUCK
    log = check()
    assert log.accepted["usage"]["hours"].to_list() == [None, 3.0]
    assert any(message.startswith("struck through: ") for message in log.asked["message"])


def test_text_of_rich_runs_without_a_line_is_no_question(book):
    sheet, check = book
    sheet["D4"] = CellRichText(TextBlock(InlineFont(b=True), "Fork"), " 5")
    assert check().asked.height == 0
