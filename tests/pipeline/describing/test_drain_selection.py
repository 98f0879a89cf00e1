"""The part of the drains that is asked for, and no copy where that is all of them."""

from datetime import date

import polars as pl
from polars.testing import assert_frame_equal

from draincurve.pipeline.describing.drain_selection import by_unit_batches, drains_until, oil_changes

DRAINS = pl.DataFrame(
    {
        "unit_key": ["a", "a", "b", "b"],
        "drained_on": [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1), None],
        "service_kind": ["oil", "top-up", None, "rebuild"],
    }
)


def test_later_drains_and_those_without_a_day_are_not_known():
    assert drains_until(DRAINS, date(2026, 2, 1))["unit_key"].to_list() == ["a", "a"]


def test_where_all_are_known_it_is_the_frame_itself():
    dated = DRAINS.drop_nulls("drained_on")
    assert drains_until(dated, date(2026, 3, 1)) is dated


def test_oil_changes_are_all_but_top_ups():
    found = oil_changes(DRAINS, ["unit_key", "drained_on"])
    assert found.columns == ["unit_key", "drained_on"]
    assert found["unit_key"].to_list() == ["a", "b", "b"]
    assert oil_changes(found.with_columns(service_kind=pl.lit("oil")), ["unit_key"]).height == 3


def test_pieces_are_whole_units_and_give_the_whole():
    rows = pl.DataFrame({"unit_key": list("aaabbbbbbcdddeeeeff"), "hours": range(19)})
    seen = []

    def work(piece):
        seen.append(piece["unit_key"].unique().sort().to_list())
        return piece.with_columns(pl.col("hours").sum().over("unit_key").alias("total"))

    found = by_unit_batches(rows, work, piece_rows=4)
    pieces, seen[:] = list(seen), []
    assert len(pieces) > 2
    assert sorted(key for piece in pieces for key in piece) == list("abcdef")
    assert_frame_equal(found, work(rows))
    assert_frame_equal(by_unit_batches(rows, work), found)


def test_units_that_do_not_lie_together_are_worked_at_once():
    rows = pl.DataFrame({"unit_key": list("baabab")})
    counted = pl.len().over("unit_key").alias("drains")
    found = by_unit_batches(rows, lambda piece: piece.select("unit_key", counted), piece_rows=2)
    assert found["drains"].to_list() == [3] * 6
