"""Measured values through the whole program, as a user would have it."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest
from small_logs import AS_OF, simple_log

UNITS = 3
LIMITS = '[wear_limits]\n"bush clearance" = "0.35 mm"\n'


def measured(slope: float = 0.0012, **more: object) -> list[dict]:
    """Bush clearance of every unit at six of its drains, the last unit worn fastest."""
    return [
        {
            "unit_id": f"U{unit + 1:02d}",
            "measured_on": (date(2026, 6, 10) - timedelta(days=10 * back)).isoformat(),
            "quantity": "bush clearance",
            "value": round(0.08 + slope * (1 + unit / 2) * hours + 0.002 * (back % 2), 4),
            "unit": "mm",
            "component_hours": hours,
        }
        | more
        for unit in range(UNITS)
        for back, hours in enumerate((120, 100, 80, 60, 40, 20))
    ]


@pytest.fixture
def shop(run, write, tmp_path):
    def call(rows: list[dict] | None, settings: str = LIMITS, **files: bool):
        path = tmp_path / "settings.toml"
        path.write_text(settings)
        args = ["--settings", path, "--as-of", AS_OF]
        if rows is not None:
            args += ["--measurements", write("measurements.csv", rows)]
        return run("plan", write("log.csv", simple_log(UNITS, 8)), *args, **files)

    return call


@pytest.mark.usefixtures("without_evidence")
def test_wear_only_shortens_and_is_named(shop):
    without, with_wear = (shop(rows, page=False).table("next_service") for rows in (None, measured()))
    joined = without.join(with_wear, on="unit_id", suffix="_worn")
    assert (joined["interval_h_worn"] <= joined["interval_h"]).all()
    shorter = joined.filter(pl.col("interval_h_worn") < pl.col("interval_h"))
    assert shorter.height
    assert set(shorter["set_by_worn"]) == {"wear"}


def test_a_part_past_its_limit_is_on_the_first_screen_and_due(shop):
    found = shop(measured(0.0016), pictures=False)
    assert found.status == 0
    row = found.table("next_service").filter(pl.col("unit_id") == "U03").row(0, named=True)
    assert (row["set_by"], row["interval_h"], row["due_on"]) == ("wear", 0.0, date.fromisoformat(AS_OF))
    page = found.page()
    assert "bush clearance past its limit" in page
    assert 'id="wear"' in page
    assert 'id="wear"' not in shop(None, pictures=False).page()


@pytest.mark.usefixtures("without_evidence")
def test_bad_rows_are_held_back_and_counted(shop):
    rows = [*measured(), measured()[0] | {"unit": "kg"}, measured()[0] | {"value": "400"}]
    found = shop(rows, page=False)
    assert found.status == 3
    held = found.table("held_back")
    assert held["line"].to_list() == [20, 21]
    account = next(item for item in found.record()["inputs"] if item["table"] == "measurements")
    assert (account["read"], account["accepted"], account["held_back"]) == (20, 18, 2)


def test_a_limit_in_the_wrong_unit_stops_the_run_with_one_line(shop):
    found = shop(measured(), '[wear_limits]\niron = "3 mm"\n')
    assert found.status == 1
    assert "does not measure Iron" in found.printed
    assert "Traceback" not in found.printed


def test_the_same_run_gives_the_same_bytes(shop):
    """Every file, but for the timings in the record."""
    first, second = (shop(measured()) for _ in range(2))
    names = {item.name for item in first.folder.iterdir()}
    assert names >= {"report.html", "report.pdf", "tables.xlsx", "service.ics", "next_service.csv", "run.json"}
    for name in names - {"run.json"}:
        assert (first.folder / name).read_bytes() == (second.folder / name).read_bytes(), name
    assert first.record() | {"timings": None} == second.record() | {"timings": None}
