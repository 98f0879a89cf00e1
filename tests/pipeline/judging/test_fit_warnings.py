"""Warnings on oils that the calendar hides."""

from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.judging.fit_warnings import fit_warnings


def drains_of(*oils: str) -> pl.DataFrame:
    """Eight units, drained every week, with the given oils in turn."""
    return pl.DataFrame(
        {
            "unit_key": [f"u{unit}" for _ in oils for unit in range(8)],
            "oil_grade": [oil for oil in oils for _ in range(8)],
            "drained_on": [date(2026, 2, 2) + timedelta(weeks=week) for week in range(len(oils)) for _ in range(8)],
            "service_kind": "oil",
            "colour_high": 2,
            "debris_high": 2,
        }
    )


def test_an_oil_that_came_in_for_all_units_at_one_time_is_named() -> None:
    said = fit_warnings((), drains_of(*["amber"] * 6, *["blue"] * 6))
    assert said == (
        "No drain of blue is from before March 2026: what else changed then cannot be told from the oil.",
    )


def test_oils_in_turns_of_a_few_weeks_each_have_a_calendar_of_their_own() -> None:
    said = fit_warnings((), drains_of(*["amber"] * 4, *["blue"] * 4, *["clear"] * 4))
    assert [sentence.split()[3] for sentence in said] == ["blue", "clear"]


def test_oils_that_run_side_by_side_are_not_named() -> None:
    side_by_side = pl.concat([drains_of(*["amber"] * 12), drains_of(*["blue"] * 12)])
    assert fit_warnings((), side_by_side) == ()
    assert fit_warnings((), drains_of(*["amber"] * 12)) == ()
    some = drains_of(*["amber"] * 12)
    half = (pl.col("unit_key") < "u4") & (pl.col("drained_on") > date(2026, 3, 15))
    half_changed = some.with_columns(pl.when(half).then(pl.lit("blue")).otherwise("oil_grade").alias("oil_grade"))
    assert fit_warnings((), half_changed) == ()
