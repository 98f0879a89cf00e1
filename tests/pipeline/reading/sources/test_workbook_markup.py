"""What a workbook hides, merges and leaves without a value; how far it may reach."""

import io
import zipfile
from datetime import date, time, timedelta

import openpyxl
import pytest
import xlsxwriter

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.cleaning.headers import matched_table
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.sheet_markup import column_letters, column_number, sheet_markup
from draincurve.schemas.errors import HeaderError, SourceError
from draincurve.schemas.settings import Settings

HOW = ReadingOptions(columns_of=header_columns(Settings()))
ALL = ReadingOptions(columns_of=header_columns(Settings()), hidden=True)
HEADER = ["Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Rider", "Total"]


@pytest.fixture
def book(tmp_path):
    """A log of five drains in lines 3 to 7 of its sheet, from column B on, below a title; and a way to save it."""
    found = openpyxl.Workbook()
    sheet = found.active
    sheet.title = "Log"
    sheet["B1"] = "Forks"
    for row, cells in enumerate(
        [HEADER, *[[f"F{n}", date(2026, 3, n), 9 + n, "5W", 2, "hard", "AB"] for n in range(1, 6)]]
    ):
        for column, cell in enumerate(cells, start=2):
            sheet.cell(row + 2, column, cell)

    def read(how=HOW):
        path = tmp_path / "log.xlsx"
        found.save(path)
        return read_log(path, how)["drains"]

    return found, sheet, read


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_hidden_sheet_is_named_and_not_read(book, state):
    found, sheet, read = book
    old = found.copy_worksheet(sheet)
    old.title, old.sheet_state = "Old", state
    found.move_sheet(old, -1)
    assert read().source == "log.xlsx[Log]"
    assert "hidden, so not read: sheet 'Old'; --hidden reads what is hidden" in read().notes
    assert [part.source for part in read(ALL).parts] == ["log.xlsx[Old]", "log.xlsx[Log]"]


def test_without_a_visible_log_the_hidden_sheet_is_named(book):
    found, sheet, read = book
    sheet.sheet_state = "hidden"
    found.create_sheet("units")["A1"] = "unit_id"
    with pytest.raises(SourceError, match="hidden, so not read: sheet 'Log'"):
        read()


@pytest.mark.parametrize("lines", [[5], [3, 4], [3, 5, 7]])
def test_hidden_rows_are_counted_and_not_read(book, lines):
    _, sheet, read = book
    for line in lines:
        sheet.row_dimensions[line].hidden = True
    found = read()
    assert found.frame["_line"].to_list() == [line for line in range(3, 8) if line not in lines]
    (note,) = [note for note in found.notes if "hidden" in note]
    assert ("1 hidden row (line 5)" if len(lines) == 1 else f"{len(lines)} hidden rows") in note
    assert read(ALL).frame.height == 5


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ("D", "hidden column D is read"),
        ("DF", "hidden columns D, F are read"),
        ("DEF", "columns D, E, F are"),
        ("L", ""),
    ],
)
def test_hidden_columns_are_named_and_read(book, columns, said):
    _, sheet, read = book
    expected = read()
    for column in columns:
        sheet.column_dimensions[column].hidden = True
    found = read()
    assert found.frame.equals(expected.frame)
    assert all(said in note for note in found.notes if "hidden" in note)
    assert len(found.notes) == len(expected.notes) + bool(said)
    assert read(ALL).notes == expected.notes


@pytest.mark.parametrize("cell", ["B2", "D2", "E2"])
def test_a_header_that_is_a_formula_without_a_value_is_named(book, cell):
    _, sheet, read = book
    sheet[cell] = '="Ho" & "urs"'
    found = read()
    said = f"the header in {cell} holds a formula without a stored value"
    assert any(note.startswith(said) for note in found.notes)
    with pytest.raises(HeaderError, match=said):
        matched_table(found)
    sheet[cell], sheet["I2"] = HEADER[ord(cell[0]) - ord("B")], '="To" & "tal"'
    assert matched_table(read()).frame.height == 5


@pytest.mark.parametrize("column", ["B", "C", "G", "H"])
def test_merged_cells_count_for_every_row(book, column):
    _, sheet, read = book
    name = {"B": "Unit", "C": "Date", "G": "Spring", "H": "Rider"}[column]
    expected = read().frame[name].to_list()
    sheet.merge_cells(f"{column}4:{column}6")
    expected[2] = expected[3] = expected[1]
    assert read().frame[name].to_list() == expected


@pytest.mark.parametrize("cell", ["B4", "D5", "F7", "H3"])
def test_a_formula_without_a_value_holds_back_its_row(book, cell):
    _, sheet, read = book
    sheet[cell] = "=1+1"
    found = read().frame
    faults = dict(zip(found["_line"], found["_fault"], strict=True))
    assert faults.pop(int(cell[1])).startswith(f"{cell} holds a formula without a stored value")
    assert set(faults.values()) == {None}


def test_a_formula_in_a_column_that_nobody_reads_does_no_harm(book):
    _, sheet, read = book
    sheet["I4"] = "=SUM(D3:D7)"
    assert "_fault" not in read().frame.columns


def test_an_error_holds_back_its_row_and_all_that_it_is_merged_over(book):
    _, sheet, read = book
    sheet["E4"], sheet["E4"].data_type = "#REF!", "e"
    sheet.merge_cells("E4:E5")
    faults = read().frame["_fault"].to_list()
    assert faults[1] == faults[2] == "E4 holds the error #REF!: type the value"
    assert faults[0] is faults[3] is faults[4] is None


def test_results_that_are_stored_are_read(tmp_path):
    """A writer that calculates nothing stores 0, and asks for a calculation when the workbook is opened."""
    path = tmp_path / "log.xlsx"
    with xlsxwriter.Workbook(path) as file:
        sheet = file.add_worksheet("Log")
        sheet.write_row(0, 0, HEADER)
        sheet.write_row(1, 0, ["F1", "2026-03-04", 12, "5W", 2, "hard", "AB"])
        sheet.write_row(2, 0, ["F1", "2026-04-04", 12, "5W", 2, "hard", "AB"])
        sheet.write_formula(1, 2, "=6+6", value=12)
        sheet.write_formula(2, 2, "=6+6")
    found = read_log(path, HOW)["drains"].frame
    assert found["Hours"].to_list() == ["12", "0"]
    assert [fault and fault[:2] for fault in found["_fault"]] == [None, "C3"]


def test_times_are_shown_as_typed(book):
    _, sheet, read = book
    sheet["D3"], sheet["D4"], sheet["D5"] = (
        time(12, 30),
        timedelta(hours=36, minutes=15),
        timedelta(days=70, minutes=1),
    )
    sheet["D6"], sheet["D6"].number_format = 0.520833, "h:mm"
    assert read().frame["Hours"].to_list() == ["12:30", "36:15", "1680:01", "12:30", "14"]
    assert read().frame["Date"][0] == "2026-03-01"


def changed(path, edit, part="xl/worksheets/sheet1.xml"):
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[part] = edit(parts.get(part, b""))
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


@pytest.mark.parametrize("reference", [b"XFD1048576", b"xfd1048576", b"B1048577000", b"ZZZZ9", b"AMK9", b"NT1000000"])
def test_a_cell_far_out_is_refused_before_the_reader_starts(book, tmp_path, reference):
    book[2]()
    cell = b'<row r="9"><c r="' + reference + b'"><v>1</v></c></row></sheetData>'
    path = changed(tmp_path / "log.xlsx", lambda part: part.replace(b"</sheetData>", cell))
    with pytest.raises(
        SourceError, match=r"log.xlsx: sheet Log: reaches to \w+; at most [\d,]+ (cells|columns)"
    ) as caught:
        read_log(path, HOW)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'<dimension ref="B1:I7"', b'<dimension ref="A1:XFD1048576"'),
        (b"</sheetData>", b'<row r="1048576"><c r="XFD1048576" s="1"/></row></sheetData>'),
    ],
)
def test_what_only_claims_to_reach_far_is_read(book, tmp_path, old, new):
    book[2]()
    path = changed(tmp_path / "log.xlsx", lambda part: part.replace(old, new))
    assert read_log(path, HOW)["drains"].frame.height == 5


def test_a_workbook_that_unpacks_to_gigabytes_is_refused(book, tmp_path):
    book[2]()
    path = tmp_path / "log.xlsx"
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive, archive.open("xl/media/x.bin", "w") as part:
        for _ in range(610):
            part.write(bytes(1_000_000))
    with pytest.raises(SourceError, match=r"log.xlsx: unpacks to 610 MB; at most 600 MB"):
        read_log(path, HOW)


def test_a_shared_text_longer_than_a_cell_is_refused(book, tmp_path):
    book[2]()
    long = b"<sst><si><t>" + b"x" * 200_000 + b"</t></si></sst>"
    path = changed(tmp_path / "log.xlsx", lambda _: long, part="xl/sharedStrings.xml")
    with pytest.raises(SourceError, match="holds a text of 200,0"):
        read_log(path, HOW)


def test_column_letters():
    assert [column_number(letters) for letters in (b"A", b"z", b"AA", b"XFD")] == [1, 26, 27, 16_384]
    assert [column_letters(number) for number in (1, 26, 27, 16_384)] == ["A", "Z", "AA", "XFD"]


def test_cells_without_references_are_counted():
    part = b"<sheetData><row><c><v>1</v></c><c><v>2</v></c></row><row><c><v>3</v></c></row></sheetData>"
    markup = sheet_markup(io.BytesIO(part), recalculated=False, text_sizes=[])
    assert (markup.rows, markup.columns, markup.first_column) == (2, 2, 1)
