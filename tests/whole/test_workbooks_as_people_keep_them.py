"""Workbooks as people keep them, through the commands: several sheets, titles, hidden and merged cells, formulas."""

import zipfile
from datetime import time

import openpyxl
import pytest
from small_logs import AS_OF, run_program, simple_log

HEADER = ["Unit", "Date", "Hours", "Oil", "Colour", "Debris", "Spring", "Rider"]
KEYS = ("unit_id", "drained_on", "oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider")


def rows(year):
    """Drains of one year, oldest first."""
    found = [[row[key] for key in KEYS] for row in simple_log(3, 6)]
    return [[unit, str(day).replace("2026", str(year)), *rest] for unit, day, *rest in found]


def saved(path, sheets, hide=()):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, lines in sheets.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
        sheet.sheet_state = "hidden" if name in hide else "visible"
    book.save(path)
    return path


def test_every_year_has_its_sheet(tmp_path):
    sheets = {
        "Read me": [["ring the customer"]],
        "2024": [["Forks 2024"], [], HEADER, *rows(2024)],
        "2025": [HEADER, *rows(2025)],
        "Old": [HEADER, *rows(2021)],
        "Sum": [["Unit", "Hours"], ["F1", 12]],
    }
    log = saved(tmp_path / "log.xlsx", sheets, hide=["Old"])
    done = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    assert "read 36 = accepted 36 + held back 0" in done.printed
    assert "'Read me', 'Sum'" in done.printed
    assert "hidden, so not read: sheet 'Old'" in done.printed
    last = done.table("next_service")["last_drained_on"]
    assert {day.year for day in last} == {2025}
    more = run_program("check", log, "--as-of", AS_OF, "--hidden")
    assert "read 54 = accepted 54 + held back 0" in more.printed


@pytest.mark.parametrize("titles", [1, 3, 12])
def test_titles_over_the_header(tmp_path, titles):
    lines = [[f"Title {number}", None, "Workshop"] for number in range(titles)]
    log = saved(tmp_path / "log.xlsx", {"Forks": [*lines, HEADER, *rows(2025)]})
    done = run_program("check", log, "--as-of", AS_OF)
    assert done.status == 0
    assert "read 18 = accepted 18 + held back 0" in done.printed
    assert "above the header ('Title 0')" in done.printed


def test_hidden_rows_merged_cells_formulas_and_times(tmp_path):
    log = saved(tmp_path / "log.xlsx", {"Log": [HEADER, *rows(2025)]})
    book = openpyxl.load_workbook(log)
    sheet = book["Log"]
    sheet.row_dimensions[3].hidden = sheet.row_dimensions[4].hidden = True
    sheet.merge_cells("H10:H12")
    sheet["E6"] = "=MAX(E7:E8)"
    sheet["C8"] = time(12, 30)
    book.save(log)
    done = run_program("check", log, "--as-of", AS_OF)
    assert done.status == 3
    assert "read 16 = accepted 15 + held back 1" in done.printed
    assert "2 hidden rows (lines 3 to 4) not read" in done.printed
    assert "E6 holds a formula without a stored value" in done.printed
    assert "1899" not in done.printed


def without(*columns):
    return [f"Column {at}" if name in columns else name for at, name in enumerate(HEADER)]


@pytest.mark.parametrize(
    ("lines", "said"), [((4, 5), "2 hidden rows (lines 4 to 5)"), ((4, 9), "2 hidden rows (between lines 4 and 9)")]
)
def test_rows_without_height_are_hidden(tmp_path, lines, said):
    log = saved(tmp_path / "log.xlsx", {"Log": [HEADER, *rows(2025)]})
    book = openpyxl.load_workbook(log)
    for line in range(3, 10):
        book["Log"].row_dimensions[line].height = 77 if line in lines else 30
    book.save(log)
    with zipfile.ZipFile(log) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(log, "w") as archive:
        for name, part in parts.items():
            archive.writestr(name, part.replace(b'ht="77"', b'ht="0"'))
    done = run_program("check", log, "--as-of", AS_OF)
    assert "read 16 = accepted 16" in done.printed
    assert said in done.printed


@pytest.mark.parametrize(
    ("name", "header", "reason"),
    [
        ("2024", without("Hours"), "column oil_hours or meter_hours missing"),
        ("drains", without("Hours"), "column oil_hours or meter_hours missing"),
        ("2024", without("Oil", "Date"), "column drained_on missing (is it 'Column 1'?), column oil_grade missing"),
        ("2024", without("Unit", "Colour", "Debris"), "column unit_id missing"),
        ("drains", without(*HEADER), "column unit_id missing"),
        ("2024", [*HEADER[:-1], "Hours"], "headers 'Hours', 'Hours' all mean oil_hours; keep one"),
        ("drains", rows(2023)[0], "the table has no header"),
    ],
)
def test_one_sheet_that_is_not_understood_is_held_back_and_the_others_are_read(tmp_path, name, header, reason):
    log = saved(tmp_path / "log.xlsx", {name: [HEADER, *rows(2024)], "2025": [header, *rows(2025)]})
    done = run_program("check", log, "--as-of", AS_OF, "--out", tmp_path / "out", "--mend", tmp_path / "mended.xlsx")
    assert done.status == 3
    assert "read 36 = accepted 18 + held back 18" in done.printed
    assert "18 rows held back" in done.printed
    assert reason in " ".join(done.printed.split())
    again = run_program("check", tmp_path / "mended.xlsx", "--as-of", AS_OF)
    assert "read 36 = accepted 18 + held back 18" in again.printed


def test_the_settings_that_a_sheet_needs_are_proposed_and_answer(tmp_path):
    header = without("Oil", "Date")
    log = saved(tmp_path / "log.xlsx", {"2024": [HEADER, *rows(2024)], "2025": [header, *rows(2025)]})
    block = run_program("check", log, "--as-of", AS_OF).printed.partition("\n[headers]")
    settings = tmp_path / "shop.toml"
    settings.write_text(f"{block[1]}{block[2]}oil_grade = ['Column 3']\n")
    done = run_program("check", log, "--as-of", AS_OF, "--settings", settings)
    assert "read 36 = accepted 36 + held back 0" in done.printed


def test_a_workbook_without_any_sheet_that_is_understood_is_refused(tmp_path):
    lines = [without("Hours"), *rows(2025)]
    done = run_program("check", saved(tmp_path / "log.xlsx", {"2024": lines, "2025": lines}), "--as-of", AS_OF)
    assert done.status == 1
    assert "log.xlsx[2024]: table drains: column oil_hours or meter_hours missing" in done.printed


@pytest.mark.parametrize(
    "lines",
    [
        [["Name", "Telephone"], ["Brask", "12"], ["Odd", "13"]],
        [["Unit", "Rider", "Hours"], ["F1", "Brask", 120], ["F2", "Odd", 80]],
        [
            ["Number", "Date", "Customer", "Amount", "Paid"],
            *[[n, f"2025-03-{n}", "Odd", 120.5, "yes"] for n in (11, 12)],
        ],
        [["Unit", "Date", "Event"], ["F1", "2025-08-01", "Race"], ["F1", "2025-08-08", "Race"]],
        [["ring the customer"]],
    ],
)
def test_a_sheet_that_is_plainly_no_log_is_named_with_its_rows(tmp_path, lines):
    log = saved(tmp_path / "log.xlsx", {"Other": lines, "2025": [HEADER, *rows(2025)]})
    done = run_program("check", log, "--as-of", AS_OF)
    assert done.status == 0
    assert f"sheet 'Other' ({len(lines)} row" in done.printed
    assert "read 18 = accepted 18 + held back 0" in done.printed


def test_an_entry_workbook_as_it_was_written_is_empty(tmp_path):
    book = tmp_path / "entry.xlsx"
    assert run_program("workbook", book).status == 0
    done = run_program("check", book, "--as-of", AS_OF)
    assert done.status == 1
    assert done.printed.count("\n") == 1
    assert "a header but no row below it: empty as it came" in done.printed


@pytest.mark.parametrize(
    ("command", "more"), [("check", []), ("springs", []), ("plan", ["--out", "OUT"]), ("backtest", ["--out", "OUT"])]
)
def test_a_cell_far_out_ends_every_command_in_one_line(tmp_path, command, more):
    log = saved(tmp_path / "log.xlsx", {"Log": [HEADER, *rows(2025)]})
    book = openpyxl.load_workbook(log)
    book["Log"]["XFD1048576"] = "x"
    book.save(log)
    words = [str(tmp_path / "out") if word == "OUT" else word for word in more]
    done = run_program(command, log, *words, "--as-of", AS_OF)
    assert done.status == 1
    assert done.printed.count("\n") == 1
    assert "log.xlsx: sheet Log: reaches to XFD1048576; at most 1,000 columns are read" in done.printed


@pytest.mark.parametrize("names", [("F01", "F02", "F03"), ("Bike 1 left", "Bike 1 right", "12")])
def test_sheets_that_are_named_by_their_unit(tmp_path, names):
    lines = [line[1:] for line in rows(2025)]
    sheets = {name: [["Fork log"], HEADER[1:], *lines[6 * at : 6 * at + 6]] for at, name in enumerate(names)}
    log = saved(tmp_path / "log.xlsx", {"Read me": [["ring the customer"]], **sheets})
    done = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    assert "read 18 = accepted 18 + held back 0" in done.printed
    assert "no column for the unit: the sheets' names are read as units, '" in " ".join(done.printed.split())
    assert set(done.table("next_service")["unit_id"].cast(str)) == set(names)


@pytest.mark.parametrize(
    "names", [("March", "April"), ("2025", "2026"), ("Jan 26", "Feb 26"), ("Sheet1", "Sheet2"), ("F01",)]
)
def test_sheets_whose_names_may_be_no_units_are_refused(tmp_path, names):
    lines = [line[1:] for line in rows(2025)]
    log = saved(tmp_path / "log.xlsx", {name: [HEADER[1:], *lines] for name in names})
    done = run_program("check", log, "--as-of", AS_OF)
    assert done.status == 1
    assert "column unit_id missing" in done.printed
