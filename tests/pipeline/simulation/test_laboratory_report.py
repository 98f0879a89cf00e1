"""A laboratory's report beside an invented log: its own stream, its truth, and values that are not found."""

import json
from pathlib import Path

import numpy as np
import polars as pl

from draincurve import sample_data
from draincurve.pipeline.simulation.laboratory_report import DETECTED, UNITS, laboratory_report

FOLDER = Path(sample_data.__file__).parent / "track_school"
DRAINS = pl.DataFrame(
    {
        "unit_id": [f"F{number % 400:03d}" for number in range(4000)],
        "drained_on": ["2026-01-01"] * 4000,
        "oil_hours": np.linspace(8, 40, 4000),
        "oil_grade": ["Fork 5"] * 4000,
    }
)


def report(debris, seed=3):
    return laboratory_report(DRAINS, every=10, viscosities={"Fork 5": 18.0}, debris=debris, seed=seed)


def test_the_same_seed_reports_the_same_and_every_tenth_drain():
    first, again, other = report({}), report({}), report({}, seed=4)
    table = first.tables["measurements"]
    assert table.equals(again.tables["measurements"])
    assert not table.equals(other.tables["measurements"])
    assert table.row(0) == tuple(UNITS.values())
    assert table["unit_id"][1:].to_list() == DRAINS["unit_id"].gather_every(10, offset=9).to_list()


def test_units_that_shed_more_debris_have_more_iron():
    debris = dict(zip(sorted(set(DRAINS["unit_id"])), np.random.default_rng(1).standard_normal(400), strict=True))
    truth = report(debris).truth["units"]
    rates = np.log([truth[unit]["iron_per_h"] for unit in truth])
    assert len(truth) == 40
    assert 0.3 < np.corrcoef(rates, [debris[unit] for unit in truth])[0, 1] < 0.85


def test_the_committed_report_holds_its_truth_and_values_under_the_limit_of_detection():
    table = pl.read_csv(FOLDER / "measurements.csv", infer_schema=False)[1:]
    truth = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))["measured"]["units"]
    log = pl.read_excel(FOLDER / "log.xlsx", sheet_name="drains", infer_schema_length=None)
    drains = log.with_columns(
        pl.col("drained_on").cast(pl.String), pl.col("oil_hours").cast(pl.Float64, strict=False)
    )
    joined = table.join(drains, left_on=["unit_id", "measured_on"], right_on=["unit_id", "drained_on"], how="inner")
    assert table.height == 150
    assert joined.height >= 145
    assert (table["Cu"] == f"<{DETECTED:g}").sum() >= 10
    known = joined.drop_nulls("oil_hours")
    expected = known["oil_hours"].to_numpy() * [truth[unit]["iron_per_h"] for unit in known["unit_id"]]
    ratios = np.log(known["Fe"].cast(pl.Float64).to_numpy() / expected)
    assert abs(ratios.mean()) < 0.05
    assert ratios.std() < 0.2
