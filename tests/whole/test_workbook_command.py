"""`draincurve workbook`: filled in as a person would, its workbook is read back without a single question."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import openpyxl
import pytest
from small_logs import AS_OF, Outcome, drain, run_program, simple_log, write_rows

from draincurve.pipeline.reading.read_inputs import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings

DAY = date.fromisoformat(AS_OF)
HOSTILE_RIDERS = ("=1+1", "R" * 64, 'He said "go", twice', "@SUM(A1)", "-2+3", "<r><b></r>", "a,b;c", "ש רוכב", "🏁")


def headings(sheet) -> dict[str, int]:
    """Column name, without its unit, to its place."""
    return {str(cell.value).split(" ")[0]: cell.column for cell in sheet[1]}


def put(sheet, row: int, values: dict[str, object]) -> None:
    """Fill one row as a spreadsheet would; text never becomes a formula in a text cell."""
    places = headings(sheet)
    for name, value in values.items():
        cell = sheet.cell(row, places[name], value)
        if isinstance(value, str):
            assert cell.number_format == "@"
            cell.data_type = "s"


def offered(book, title: str) -> list[str]:
    """Names of one list."""
    titles, *rows = book["lists"].iter_rows(values_only=True)
    place = titles.index(title)
    return [row[place] for row in rows if row[place]]


def lists_of(path: Path):
    """A workbook of which only the lists are looked at, without its thousands of formatted cells."""
    return openpyxl.load_workbook(path, read_only=True)


def fill(book, units: list[str], riders: list[str]) -> int:
    """Every table and every column, drains as a shop would have them; returns the number of drains."""
    oils, springs, raters = (offered(book, title) for title in ("oils", "springs", "raters"))
    ratings = ["1", 2, "2-3", 3, "1-2", 4, 2, "3-4"]
    row = 1
    for number, unit in enumerate(units):
        meter, on_spring = 100.0, 10.0
        for visit in range(8):
            row += 1
            hours = 6.0 + (visit * 3 + number) % 7
            meter, on_spring = meter + hours, on_spring + hours
            day = DAY - timedelta(days=200 - 20 * visit + number)
            put(book["drains"], row, {
                "unit_id": unit, "drained_on": datetime(day.year, day.month, day.day) if visit % 2 else day,
                "oil_hours": hours, "meter_hours": meter, "oil_grade": oils[visit % len(oils)],
                "filled": 500, "drained": 470.5 + visit, "settle_time": 10 if visit % 3 else 60,
                "colour_rating": ratings[(visit + number) % 8], "debris_rating": ratings[(visit * 3 + number) % 8],
                "spring_type": springs[number % len(springs)], "spring_hours": on_spring,
                "rider": riders[(number + visit) % len(riders)], "rated_by": raters[visit % len(raters)],
                "surface": "sand", "site": "north", "machine": f"bike {number}", "chamber": "outer",
                "drain_method": "pumped through", "service_kind": "rebuild" if visit == 3 else "oil",
                "new_parts": "bushes" if visit == 3 else None, "note": "cold day",
                "milky": "no", "burnt": "no", "leak": "no",
            })  # fmt: skip
        put(book["units"], 2 + number, {
            "unit_id": unit, "machine": f"bike {number}", "position": "left", "site": "north", "fill": 500,
            "spring_type": springs[number % len(springs)], "oil_grade": oils[0],
            "rider": riders[number % len(riders)], "max_interval": 30, "max_oil_days": 365, "in_service": "yes",
        })  # fmt: skip
        put(book["usage"], 2 + number, {"unit_id": unit, "site": "north", "date": DAY, "hours": 1.5})
        put(book["bookings"], 2 + number, {
            "unit_id": unit, "site": "north", "date": DAY + timedelta(days=9), "hours": 4, "event": "Harbour loop",
        })  # fmt: skip
        put(book["measurements"], 2 + number, {
            "unit_id": unit, "measured_on": DAY - timedelta(days=30), "quantity": "bush_clearance", "value": 0.12,
            "unit": "mm", "component_hours": 40, "rebuilt_on": DAY - timedelta(days=140 - number), "site": "north",
        })  # fmt: skip
    for place, oil in enumerate(oils):
        put(book["oils"], 2 + place, {"oil_grade": oil, "kv40": 15.5, "kv100": 3.9, "note": "from the tin"})
    return row - 1


@dataclass(frozen=True)
class Filled:
    """A workbook that was written for a log and filled in, and what was said when it was written."""

    path: Path
    written: Outcome
    units: list[str]
    riders: list[str]
    drains: int


@pytest.fixture(scope="module")
def filled(tmp_path_factory) -> Filled:
    folder = tmp_path_factory.mktemp("bench")
    path, log = folder / "bench.xlsx", write_rows(folder / "log.csv", hostile_log())
    written = run_program("workbook", path, "--log", log, "--as-of", AS_OF)
    book = openpyxl.load_workbook(path)
    units, riders = offered(book, "units"), offered(book, "riders")
    count = fill(book, units, riders)
    book.save(path)
    return Filled(path, written, units, riders, count)


def hostile_log() -> list[dict]:
    rows = simple_log(3, 6, rated_by="KB")
    for place, rider in enumerate(HOSTILE_RIDERS):
        rows.append(drain(f"U{1 + place % 3:02d}", date(2026, 3, 1 + place), 8.0 + place % 3, rider=rider))
    rows[0] |= {"unit_id": "=1+2", "rated_by": "Vale", "oil_grade": "Fork 7"}
    rows[-1] |= {"rider": "x" * 300}
    rows.append(drain("U99", DAY, 0.0))
    return rows


def test_what_is_typed_into_it_is_read_back_without_a_question(run, filled: Filled) -> None:
    assert filled.written.status == 3
    assert "held back 2" in filled.written.printed
    assert "names in rows held back are not in the lists" in filled.written.printed
    assert filled.units == ["=1+2", "U01", "U02", "U03"]
    assert set(HOSTILE_RIDERS[:-1]) <= set(filled.riders)
    checked = read(RunInputs(source_address(str(filled.path)), DAY), Settings())
    assert checked.held_back.height == 0
    assert checked.remarks.rows() == []
    accounts = {account.table: (account.read, account.accepted) for account in checked.accounts}
    assert accounts["drains"] == (filled.drains, filled.drains)
    assert accounts["units"] == accounts["usage"] == accounts["bookings"] == accounts["measurements"] == (4, 4)
    drains = checked.accepted["drains"]
    assert set(drains["unit_id"]) == set(filled.units)
    assert set(drains["rider"]) == set(filled.riders)
    assert sorted(drains["settle_hours"].round(4).unique()) == [0.1667, 1.0]
    assert drains["meter_hours"].null_count() == 0
    ranged = drains.filter(drains["colour_low"] < drains["colour_high"])
    assert ranged.height > 4
    assert run("check", filled.path, "--as-of", AS_OF, out=False).status == 0


def test_the_main_job_runs_on_it(run, filled: Filled) -> None:
    outcome = run("plan", filled.path, "--as-of", AS_OF, page=False)
    assert outcome.status == 0
    table = outcome.table("next_service")
    assert table.height == 4
    assert (table["interval_h"] <= 30).all()
    assert table["due_before"].null_count() < 4 or table["due_on"].null_count() == 0


def test_only_what_must_be_filled_is_enough(run, tmp_path: Path) -> None:
    """Without a log, names are typed; the one note left says that no settling time was named."""
    path = tmp_path / "bench.xlsx"
    assert run("workbook", path, "--as-of", AS_OF, out=False).status == 0
    book = openpyxl.load_workbook(path)
    for visit, rating in enumerate((1, 2, "2-3", 3)):
        put(book["drains"], 2 + 3 * visit, {
            "unit_id": "F07", "drained_on": DAY - timedelta(days=10 * visit), "oil_hours": 8 + visit,
            "oil_grade": "Fork 5", "colour_rating": rating, "spring_type": "Plain 46", "rider": "Brask",
        })  # fmt: skip
    book.save(path)
    checked = read(RunInputs(source_address(str(path)), DAY), Settings())
    assert [account.read for account in checked.accounts if account.table == "drains"] == [4], (
        "empty rows do not count"
    )
    assert checked.held_back.height == 0
    assert checked.remarks["message"].to_list() == [
        "4 of 4 rated drains name no settling time: the shop's standard of 0.167 h is assumed"
    ]


def test_an_empty_usage_sheet_is_the_same_as_none(run, write, tmp_path: Path) -> None:
    path = tmp_path / "bench.xlsx"
    run("workbook", path, "--as-of", AS_OF, out=False)
    book = openpyxl.load_workbook(path)
    rows = simple_log(2, 5)
    for place, row in enumerate(rows, start=2):
        put(book["drains"], place, {**row, "drained_on": date.fromisoformat(row["drained_on"])})
    book.save(path)
    filled = run("plan", path, "--as-of", AS_OF, page=False).table("next_service")
    plain = run("plan", write("plain.csv", rows), "--as-of", AS_OF, page=False).table("next_service")
    assert filled.equals(plain)


def test_it_writes_over_nothing_unasked(run, tmp_path: Path) -> None:
    path = tmp_path / "bench.xlsx"
    path.write_text("a season of entries")
    outcome = run("workbook", path, out=False)
    assert (outcome.status, outcome.printed.count("\n")) == (1, 1)
    assert "--force" in outcome.printed
    assert path.read_text() == "a season of entries"
    assert run("workbook", path, "--force", out=False).status == 0
    assert lists_of(path)["drains"]["A1"].value == "unit_id"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("name", "words"),
    [("bench.csv", ".xlsx"), ("nowhere/bench.xlsx", "no such folder"), ("folder.xlsx", "is a folder")],
)
def test_a_place_that_cannot_be_is_said_in_one_line(run, tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "folder.xlsx").mkdir()
    outcome = run("workbook", tmp_path / name, "--force", out=False)
    assert (outcome.status, outcome.printed.count("\n")) == (1, 1)
    assert words in outcome.printed


def test_it_never_writes_over_the_log_it_reads(run, tmp_path: Path) -> None:
    path = tmp_path / "log.xlsx"
    run("workbook", path, out=False)
    before = path.read_bytes()
    outcome = run("workbook", path, "--log", path, "--force", out=False)
    assert outcome.status == 1
    assert "one of the files that are read" in outcome.printed
    assert path.read_bytes() == before


def test_a_log_that_cannot_be_read_leaves_nothing_behind(run, tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_bytes(b"\x00")
    outcome = run("workbook", tmp_path / "bench.xlsx", "--log", tmp_path / "log.csv", out=False)
    assert outcome.status == 1
    assert not (tmp_path / "bench.xlsx").exists()


def test_the_register_goes_with_a_log(run, write, tmp_path: Path) -> None:
    units = write("units.csv", [{"unit_id": "F42", "machine": "bike 9"}])
    assert run("workbook", tmp_path / "a.xlsx", "--units", units, out=False).status == 2
    log = write("log.csv", simple_log(1, 2))
    assert run("workbook", tmp_path / "a.xlsx", "--log", log, "--units", units, out=False).status == 0
    book = lists_of(tmp_path / "a.xlsx")
    assert offered(book, "units") == ["F42", "U01"]
    assert offered(book, "machines") == ["bike 9"]


def test_an_earlier_entry_workbook_is_a_log_like_any_other(run, filled: Filled, tmp_path: Path) -> None:
    second = tmp_path / "second.xlsx"
    assert run("workbook", second, "--log", filled.path, "--as-of", AS_OF, out=False).status == 0
    assert offered(lists_of(second), "units") == filled.units
