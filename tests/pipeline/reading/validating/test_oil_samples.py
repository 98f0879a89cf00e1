"""Which drain a laboratory's sample belongs to, and what is asked about."""

from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.reading.validating.oil_samples import with_drains_of_samples
from draincurve.schemas.settings import LaboratoryRule

DRAINS = pl.DataFrame(
    {
        "unit_key": ["F07"] * 3,
        "drained_on": [date(2026, 3, 4), date(2026, 4, 4), date(2026, 4, 8)],
        "oil_hours": [12.0, 20.0, 3.0],
        "service_kind": ["oil"] * 3,
    }
)


@pytest.mark.parametrize(
    ("on", "hours", "clock", "fill", "doubt"),
    [
        (date(2026, 3, 4), None, 12.0, 0, False),  # of the day
        (date(2026, 3, 9), None, 12.0, 0, False),  # some days after
        (date(2026, 3, 15), None, None, 1, False),  # too late to tell
        (date(2026, 3, 2), None, 12.0, 0, True),  # before the drain
        (date(2026, 4, 9), None, 3.0, 2, True),  # after two drains
        (date(2026, 3, 30), 12.4, 12.0, 0, False),  # a report weeks later, by the hours
        (date(2026, 3, 20), 5.0, 5.0, 1, False),  # in the middle of a fill
        (date(2026, 5, 30), 2.0, 2.0, 3, False),  # on the oil that runs now
    ],
)
def test_the_drain_of_a_sample(on, hours, clock, fill, doubt):
    rows = pl.DataFrame(
        {"unit_key": ["F07"], "measured_on": [on], "component_hours": [hours]},
        schema_overrides={"component_hours": pl.Float64},
    )
    found = with_drains_of_samples(rows, DRAINS, LaboratoryRule()).row(0, named=True)
    assert (found["clock_h"], found["fill"], found["in_doubt"]) == (clock, fill, doubt)


def test_a_doubtful_sample_is_asked_about_with_the_hours_of_its_drain(check):
    log = check(
        {"drained_on": "2026-03-04"},
        {"drained_on": "2026-03-08"},
        measurements=[
            {"unit_id": "F07", "measured_on": on, "Fe": "30", "Cu": "4"} for on in ("2026-03-02", "2026-03-09")
        ],
    )
    asked = log.asked.filter(pl.col("column") == "measured_on")
    assert asked.height == 4
    assert set(asked["proposal"]) == {"12.0"}
    assert asked["message"].str.contains("until then it lengthens nothing").all()
    assert asked["message"].str.contains("may be of the drain of 2026-03-08 or of 2026-03-04").sum() == 2


def test_a_sample_of_no_drain_is_listed_with_its_line(check):
    log = check(
        {"drained_on": "2026-03-04"},
        measurements=[
            {"unit_id": "F07", "measured_on": "2026-04-20", "Fe": "30", "hours": None},
            {"unit_id": "F07", "measured_on": "2026-04-20", "Fe": "31", "hours": "6"},
            {"unit_id": "F08", "measured_on": "2026-03-04", "Fe": "32", "hours": None},
        ],
        units=[{"unit_id": "F08"}],
    )
    asked = log.asked.filter(pl.col("message").str.contains("is of no drain of this unit"))
    assert asked.select("source", "line", "unit_id", "day").rows() == [
        ("measurements.csv", 2, "F07", "2026-04-20"),
        ("measurements.csv", 4, "F08", "2026-03-04"),
    ]
