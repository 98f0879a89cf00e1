"""Units decided in blocks against all of them at once: the same numbers."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_array_equal

from pipeline.deciding.hours_curves import HoursCurves
from pipeline.deciding.unit_blocks import curves_of_units, decide_units
from schemas.errors import ContractError
from schemas.settings import Costs, Settings

UNITS, DRAWS = 53, 200
SETTINGS = Settings(costs=Costs(change=45.0, late=320.0))


def whole():
    rng = np.random.default_rng(4)
    return {
        channel: HoursCurves(8.0 + rng.normal(size=(UNITS, DRAWS)), 2.0 + 0.1 * rng.random(DRAWS), "logit")
        for channel in ("colour", "debris")
    }


def blocks(curves, size):
    return [
        {name: curve.rows(np.arange(begin, min(begin + size, UNITS))) for name, curve in curves.items()}
        for begin in range(0, UNITS, size)
    ]


@pytest.mark.parametrize("size", [1, 7, 52, 53])
def test_blocks_give_the_same_numbers_as_the_whole(size):
    curves = whole()
    rng = np.random.default_rng(5)
    caps = {"maker_limit": rng.uniform(10, 60, UNITS), "data_range": rng.uniform(10, 60, UNITS)}
    hours = np.where(rng.random(UNITS) < 0.2, np.nan, rng.uniform(0, 40, UNITS))
    once = decide_units([curves], caps, hours, SETTINGS)
    found = decide_units(blocks(curves, size), caps, hours, SETTINGS)
    assert found.intervals.table.equals(once.intervals.table)
    for name in ("unrounded_h", "cost_h", "cost_binds"):
        assert_array_equal(getattr(found.intervals, name), getattr(once.intervals, name))
    assert found.intervals.cost_why == once.intervals.cost_why
    assert_array_equal(found.risk_now, once.risk_now)


def test_blocks_must_hold_every_row_once():
    curves = whole()
    hours = np.zeros(UNITS)
    with pytest.raises(ContractError, match="50 curves for 53 rows"):
        decide_units(blocks(curves, 10)[:5], {}, hours, SETTINGS)
    with pytest.raises(ContractError, match="56 curves for 53 rows"):
        decide_units([*blocks(curves, 53), *blocks(curves, 3)[:1]], {}, hours, SETTINGS)


def test_a_fleet_without_a_fit_is_one_block_without_curves():
    curves = curves_of_units({}, pl.DataFrame({"unit_key": ["u"] * 5000}), Settings(), np.random.default_rng(1))
    assert curves == {}
    found = decide_units([curves], {"maker_limit": np.full(5000, 30.0)}, np.zeros(5000), Settings())
    assert found.intervals.table["interval_h"].unique().to_list() == [30.0]
    assert np.isnan(found.risk_now).all()
