"""Measured values beside an invented log: their own stream, their truth, and that the program reads them all."""

import json
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from draincurve import sample_data
from draincurve.pipeline.simulation.measured_wear import DETECTED, LIVES, measured_fleet

FOLDER = Path(sample_data.__file__).parent / "race_team"
DRAINS = pl.DataFrame(
    {
        "unit_id": ["F01"] * 12 + ["S01"],
        "drained_on": ["2026-01-01"] * 13,
        "oil_hours": np.linspace(2, 24, 13),
        "oil_grade": ["Fork 5"] * 13,
        "spring_hours": np.linspace(40, 160, 13),
    }
)


def test_the_same_seed_measures_the_same_and_only_fork_legs():
    first, again = (measured_fleet(DRAINS, viscosities={"Fork 5": 18.0}, seed=seed) for seed in (3, 3))
    other = measured_fleet(DRAINS, viscosities={"Fork 5": 18.0}, seed=4)
    assert all(first.tables[name].equals(again.tables[name]) for name in first.tables)
    assert not first.tables["measurements"].equals(other.tables["measurements"])
    assert set(first.tables["measurements"]["unit_id"]) == set(first.truth["units"]) == {"F01"}
    assert first.tables["parts"].height == len(LIVES)


def test_the_committed_sample_holds_its_truth_and_values_under_the_limit_of_detection():
    table = pl.read_csv(FOLDER / "measurements.csv", infer_schema=False)
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))["measured"]["units"]
    assert set(table["unit_id"]) == set(truth)
    assert (table["value"] == f"<{DETECTED:g}").sum() >= 2
    clearance = table.filter(pl.col("quantity") == "bush clearance").cast(
        {"value": pl.Float64, "component_hours": pl.Float64}
    )
    expected = [
        truth[unit]["bush_clearance_at_new"] + truth[unit]["bush_clearance_per_h"] * hours
        for unit, hours in clearance.select("unit_id", "component_hours").iter_rows()
    ]
    assert np.std(clearance["value"].to_numpy() - expected) < 0.01


def test_the_table_of_parts_and_the_measurements_count_the_same_hours():
    found = measured_fleet(DRAINS, viscosities={"Fork 5": 18.0}, seed=3).tables
    stated = found["measurements"].filter(pl.col("quantity") == "bush clearance")["component_hours"].cast(pl.Float64)
    fitted = float(found["parts"]["fitted_at_h"][0])
    since = DRAINS["oil_hours"][1:].cum_sum()
    assert stated.to_list() == pytest.approx([fitted + since[at] for at in (2, 6, 10)], abs=0.11)


@pytest.mark.parametrize(
    ("spring_hours", "fitted"),
    [
        (np.linspace(40, 160, 13), ("2026-01-01", "40.0")),
        ([40.0, 60.0, 80.0, 5.0, *np.linspace(20, 100, 9)], ("2026-03-01", "0")),
        ([2.0, *np.linspace(20, 160, 12)], ("2026-01-01", "2.0")),
    ],
)
def test_springs_have_the_hours_of_the_log(spring_hours, fitted):
    drains = DRAINS.with_columns(
        pl.Series("spring_hours", spring_hours), pl.Series("drained_on", [f"2026-{at:02}-01" for at in range(1, 14)])
    )
    found = measured_fleet(drains, viscosities={"Fork 5": 18.0}, seed=3).tables
    stated = found["measurements"].filter(pl.col("quantity") == "spring free length")["component_hours"]
    assert stated.cast(pl.Float64).to_list() == pytest.approx([spring_hours[at] for at in (3, 7, 11)], abs=0.051)
    parts = found["parts"].filter(pl.col("part") == "spring")
    assert parts.select("fitted_on", "fitted_at_h").rows() == [fitted]
