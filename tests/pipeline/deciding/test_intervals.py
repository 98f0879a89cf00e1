"""One interval a row: the shortest of the channels' hours and the caps, rounded down, and what goes with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from fleet_frames import sure_curves

from draincurve.pipeline.deciding.costs import NoOptimum, cost_interval
from draincurve.pipeline.deciding.intervals import DecidedIntervals, decide_intervals
from draincurve.pipeline.deciding.oil_curves import OilCurves, hours_points, risk_interval
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Costs, Settings

SHOP = Settings()
DEAR = Costs(change=10.0, late=1000.0)
"""A late change costs so much that less risk than the accepted 10 % is worth paying for."""


def decided(
    curves: dict[str, RiskCurves], rows: int, settings: Settings = SHOP, **caps: list[float]
) -> DecidedIntervals:
    return decide_intervals(OilCurves(curves), {name: np.array(cap) for name, cap in caps.items()}, rows, settings)


def test_each_row_has_its_shortest_limit_rounded_down_and_named():
    curves = {"colour": sure_curves([12.9, 900.0, 8.0]), "debris": sure_curves([900.0, 11.2, 900.0])}
    found = decided(curves, 3, maker_limit=[40.0, 40.0, 5.3], data_range=[100.0, 100.0, 100.0])
    assert found.table["interval_h"].to_list() == [12.5, 11.0, 5.0]
    assert found.table["set_by"].to_list() == ["colour", "debris", "maker_limit"]
    assert found.unrounded_h == pytest.approx([12.9, 11.2, 5.3], rel=1e-4)
    assert decided(curves, 3, replace(SHOP, step_h=5.0)).table["interval_h"].to_list() == [10.0, 10.0, 5.0]


def test_more_accepted_risk_is_a_longer_interval():
    curves = {"debris": sure_curves([10.0])}
    cautious, bold = (decided(curves, 1, replace(SHOP, accepted_risk=risk)).unrounded_h[0] for risk in (0.05, 0.2))
    assert cautious < 10.0 < bold


def test_the_range_is_that_of_the_oil():
    """Draws of debris lie evenly about its hours: 5 % and 95 % points at 0.9 of their reach."""
    curves = {"colour": sure_curves([900.0, 6.0]), "debris": sure_curves([10.0, 900.0], spread=0.6)}
    table = decided(curves, 2, maker_limit=[2.0, np.inf]).table
    factor = np.exp(0.9 * 0.6 / 3.0)
    assert table["interval_low_h"].to_list() == pytest.approx([10.0 / factor, 6.0], rel=1e-4)
    assert table["interval_high_h"].to_list() == pytest.approx([10.0 * factor, 6.0], rel=1e-4)
    assert table["set_by"].to_list() == ["maker_limit", "colour"]


def test_without_a_fit_only_the_caps_stand_and_without_these_nothing():
    capped = decided({}, 2, maker_limit=[8.3, np.inf])
    assert capped.table.rows() == [(8.0, None, None, "maker_limit"), (None, None, None, None)]
    assert capped.unrounded_h.tolist() == [8.3, np.inf]
    assert capped.table.columns == ["interval_h", "interval_low_h", "interval_high_h", "set_by"]
    nothing = decided({}, 1).table
    assert nothing.rows() == [(None, None, None, None)]
    assert nothing.schema == capped.table.schema
    assert nothing.dtypes == [pl.Float64, pl.Float64, pl.Float64, pl.String]


def test_without_costs_none_binds():
    found = decided({"debris": sure_curves([10.0, 12.0])}, 2)
    assert found.cost_h.tolist() == [np.inf, np.inf]
    assert found.cost_why == (NoOptimum.FOUND, NoOptimum.FOUND)
    assert found.cost_binds.tolist() == [False, False]
    for half in (Costs(change=10.0), Costs(late=1000.0)):
        assert decided({"debris": sure_curves([10.0])}, 1, replace(SHOP, costs=half)).cost_h.tolist() == [np.inf]


def test_costs_shorten_what_the_risk_allows():
    curves = {"colour": sure_curves([900.0, 900.0]), "debris": sure_curves([10.0, 20.0])}
    found = decided(curves, 2, replace(SHOP, costs=DEAR), maker_limit=[50.0, 3.0])
    cheapest = cost_interval(OilCurves(curves), 10.0, 1000.0).hours
    assert (cheapest < [10.0, 20.0]).all()
    assert found.cost_h == pytest.approx(cheapest)
    assert found.unrounded_h == pytest.approx([cheapest[0], 3.0])
    assert found.cost_binds.tolist() == [True, False]
    assert found.cost_why == (NoOptimum.FOUND, NoOptimum.FOUND)
    assert found.table["set_by"].to_list() == ["debris", "maker_limit"]
    free = decided(curves, 2, maker_limit=[50.0, 3.0]).table
    for end in ("interval_low_h", "interval_high_h"):
        assert found.table[end].to_list() == free[end].to_list(), "the range is of the hours at the accepted risk"


def test_costs_never_lengthen_what_the_risk_allows():
    found = decided({"debris": sure_curves([10.0])}, 1, replace(SHOP, costs=Costs(change=100.0, late=300.0)))
    assert found.cost_h[0] > 10.0
    assert found.unrounded_h == pytest.approx([10.0])
    assert found.cost_binds.tolist() == [False]


def test_where_no_channel_has_a_cheapest_interval_it_is_said_why():
    found = decided({"debris": sure_curves([10.0])}, 1, replace(SHOP, costs=Costs(change=100.0, late=1.0)))
    assert found.cost_h.tolist() == [np.inf]
    assert found.cost_why == (NoOptimum.LATE_TOO_CHEAP,)
    assert found.cost_binds.tolist() == [False]


def test_curves_have_a_row_for_every_row():
    with pytest.raises(ContractError, match=r"^oil: 2 curves for 3 rows; expected one each, in order$"):
        decided({"debris": sure_curves([10.0, 12.0])}, 3)


def test_the_range_and_the_cost_are_each_rows_own():
    """A long-lived row beside a short-lived one: neither lends the other its risk, its cost or its range."""
    curves = {"colour": sure_curves([900.0, 900.0, 900.0]), "debris": sure_curves([10.0, 60.0, 10.0])}
    found = decided(curves, 3, replace(SHOP, costs=DEAR))
    assert 10.0 < found.cost_h[1] < 60.0
    assert found.cost_binds.tolist() == [True, True, True]
    for end in ("interval_low_h", "interval_high_h"):
        assert found.table[end].to_list() == pytest.approx([10.0, 60.0, 10.0], rel=1e-3)


def test_a_cap_does_not_hide_a_channel_of_its_name():
    with pytest.raises(ContractError, match=r"^debris: names a channel and a cap; one would hide the other$"):
        decided({"debris": sure_curves([10.0])}, 1, debris=[5.0])


def test_a_channel_without_a_cheapest_interval_does_not_speak_for_one_that_has_it():
    curves = {"colour": sure_curves([100.0], slope=0.5), "debris": sure_curves([10.0])}
    found = decided(curves, 1, replace(SHOP, costs=DEAR))
    assert np.isfinite(found.cost_h).all()
    assert found.cost_why == (NoOptimum.FOUND,)


def test_two_channels_that_matter_alike_leave_less_than_either_alone():
    """At 10 h either is at 10 % and the oil at 19 %; the channel with more of the risk is named."""
    curves = {"colour": sure_curves([10.0]), "debris": sure_curves([9.9])}
    found = decided(curves, 1, replace(SHOP, step_h=0.01))
    alone = min(decided({name: curve}, 1).unrounded_h[0] for name, curve in curves.items())
    assert found.unrounded_h[0] == pytest.approx(risk_interval(OilCurves(curves), 0.1)[0])
    assert found.unrounded_h[0] < 0.85 * alone
    assert found.table["set_by"].to_list() == ["debris"]
    assert found.table["interval_low_h"][0] == pytest.approx(hours_points(OilCurves(curves), 0.1)[0, 0])


def test_no_limit_may_have_the_name_of_the_oil():
    with pytest.raises(ContractError, match=r"^oil: names a channel and a cap"):
        decided({"debris": sure_curves([10.0])}, 1, oil=[5.0])
