"""The part of the drains that is asked for, and no copy where that is all of them."""

from datetime import date

import polars as pl

from pipeline.describing.known_drains import known_by, oil_changes

DRAINS = pl.DataFrame(
    {
        "unit_key": ["a", "a", "b", "b"],
        "drained_on": [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1), None],
        "service_kind": ["oil", "top-up", None, "rebuild"],
    }
)


def test_later_drains_and_those_without_a_day_are_not_known():
    assert known_by(DRAINS, date(2026, 2, 1))["unit_key"].to_list() == ["a", "a"]


def test_where_all_are_known_it_is_the_frame_itself():
    dated = DRAINS.drop_nulls("drained_on")
    assert known_by(dated, date(2026, 3, 1)) is dated


def test_oil_changes_are_all_but_top_ups():
    found = oil_changes(DRAINS, ["unit_key", "drained_on"])
    assert found.columns == ["unit_key", "drained_on"]
    assert found["unit_key"].to_list() == ["a", "b", "b"]
    assert oil_changes(found.with_columns(service_kind=pl.lit("oil")), ["unit_key"]).height == 3
