"""tables.xlsx and service.ics of whole runs: the same answers as the CSV tables, and never later than a limit."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from icalendar import Calendar
from small_logs import AS_OF, drain, simple_log

DAY = date.fromisoformat(AS_OF)


def units_of(folder: Path) -> dict[str, date]:
    """Unit to the day of its event."""
    read = Calendar.from_ical((folder / "service.ics").read_bytes())
    named = {str(event["SUMMARY"]).rpartition(":")[0]: event.decoded("dtstart") for event in read.walk("VEVENT")}
    return {name: day for name, day in named.items() if name}


@pytest.mark.parametrize(
    "text", ["[caps]\nmax_oil_days = 12", "[caps]\nmax_oil_days = 40\nmax_interval_h = 6", "accepted_risk = 0.3"]
)
def test_no_event_lies_past_the_makers_limit_or_the_due_date(run, write, tmp_path: Path, text: str) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text(text)
    usage = [
        {"unit_id": f"U{unit:02d}", "date": (DAY - timedelta(days=day)).isoformat(), "hours": 0.5}
        for unit in range(1, 5)
        for day in range(9)
    ]
    bookings = [{"unit_id": "U01", "date": (DAY + timedelta(days=3)).isoformat(), "hours": 30}]
    log = write("log.csv", [*simple_log(4, 6), drain("U09", DAY - timedelta(days=200), 9.0)])
    sides = ("--usage", write("usage.csv", usage), "--bookings", write("bookings.csv", bookings))
    outcome = run("plan", log, *sides, "--settings", settings, "--as-of", AS_OF, page=False)
    found = units_of(outcome.folder)
    table = outcome.table("next_service").drop_nulls("due_on")
    assert set(found) == set(table["unit_id"])
    longest = int(text.split("max_oil_days = ")[1].split("\n")[0]) if "max_oil_days" in text else 10_000
    for row in table.iter_rows(named=True):
        limit = row["last_drained_on"] + timedelta(days=longest)
        assert DAY <= found[row["unit_id"]] <= max(DAY, min(limit, row["due_on"]))
        if row["hours_left"] is not None and row["hours_left"] <= 0:
            assert found[row["unit_id"]] == DAY


def test_the_workbook_holds_the_rows_of_the_tables(run, write) -> None:
    rows = simple_log(3, 6)
    rows[2] = rows[2] | {"unit_id": "=1+1", "colour_rating": 9}
    outcome = run("plan", write("log.csv", rows), "--as-of", AS_OF)
    book = openpyxl.load_workbook(outcome.folder / "tables.xlsx")
    for name in ("next_service", "fleet_intervals", "spring_effects", "held_back"):
        table = pl.read_csv(outcome.folder / f"{name}.csv", infer_schema_length=0)
        assert book[name].max_row == table.height + 1
        assert [cell.value for cell in book[name][1]] == table.columns
    assert book["held_back"].max_row == 2
    assert not any(cell.data_type == "f" for sheet in book for row in sheet.iter_rows() for cell in row)
