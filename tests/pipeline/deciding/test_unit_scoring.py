"""Units scored in blocks against all of them at once, and the same bits wherever the blocks are worked off."""

import pickle

import numpy as np
import polars as pl
import pytest
from drained_fleets import fitted, log_of, state_of_log
from numpy.testing import assert_array_equal

from draincurve.pipeline.deciding.oil_curves import OilCurves, oil_curves, risk_interval, unit_draws
from draincurve.pipeline.deciding.unit_blocks import curves_of_rows, unit_blocks
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.pipeline.deciding.unit_scoring import decide_units, joined_blocks, score_block, score_units
from draincurve.pipeline.fitting import HERE, OilFit
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Costs, Settings

UNITS, DRAWS = 53, 200
BLOCK = 100
SETTINGS = Settings(costs=Costs(change=45.0, late=320.0))


def whole():
    rng = np.random.default_rng(4)
    channels = {
        channel: RiskCurves(8.0 + rng.normal(size=(UNITS, DRAWS)), 2.0 + 0.1 * rng.random(DRAWS), "logit")
        for channel in ("colour", "debris")
    }
    return OilCurves(channels, rng.normal(1.0, 0.3, DRAWS))


def same(one, other):
    assert one.intervals.table.equals(other.intervals.table)
    for name in ("unrounded_h", "cost_h", "cost_binds"):
        assert_array_equal(getattr(one.intervals, name), getattr(other.intervals, name))
    assert one.intervals.cost_why == other.intervals.cost_why
    assert_array_equal(one.risk_now, other.risk_now)


@pytest.mark.parametrize("size", [1, 7, 52, 53])
def test_blocks_give_the_same_numbers_as_the_whole(size):
    curves = whole()
    rng = np.random.default_rng(5)
    caps = {"maker_limit": rng.uniform(10, 60, UNITS), "data_range": rng.uniform(10, 60, UNITS)}
    hours = np.where(rng.random(UNITS) < 0.2, np.nan, rng.uniform(0, 40, UNITS))
    parts = []
    for begin in range(0, UNITS, size):
        rows = np.arange(begin, min(begin + size, UNITS))
        parts.append(
            decide_units(curves.rows(rows), {name: cap[rows] for name, cap in caps.items()}, hours[rows], SETTINGS)
        )
    same(joined_blocks(parts), decide_units(curves, caps, hours, SETTINGS))


def test_curves_and_rows_must_be_of_one_number():
    with pytest.raises(ContractError, match="53 curves for 50 rows"):
        decide_units(whole(), {}, np.zeros(50), SETTINGS)


def test_a_fleet_without_a_fit_has_its_caps():
    state = pl.DataFrame({"unit_key": [f"u{number}" for number in range(5000)]})
    found = score_units(OilFit({}, None), state, {"maker_limit": np.full(5000, 30.0)}, np.zeros(5000), Settings())
    assert found.decided.intervals.table["interval_h"].unique().to_list() == [30.0]
    assert np.isnan(found.decided.risk_now).all()
    assert found.standings["standing"].unique().to_list() == ["too few drains"]


@pytest.fixture(scope="module")
def large():
    """The fit of a fleet of three blocks, the last not full, its state with a unit never rated, caps and hours."""
    drains = log_of(240, 4, seed=3)
    fit = fitted(drains.filter(pl.col("unit_key") != "u007"))
    state = state_of_log(drains)
    hours = np.random.default_rng(6).uniform(0, 20, state.height)
    return OilFit({"debris": fit}, None), state, {"maker_limit": np.full(state.height, 40.0)}, hours


class Backwards:
    """An engine that works off the last block first, each as another process would get it."""

    notes = ()

    def map(self, function, tasks):
        done = [function(pickle.loads(pickle.dumps(task))) for task in reversed(list(tasks))]
        return iter(reversed(done))


def test_blocks_of_a_large_fleet_give_the_same_bits_in_any_order(large):
    here = score_units(*large, SETTINGS, block_units=BLOCK)
    there = score_units(*large, SETTINGS, Backwards(), block_units=BLOCK)
    assert here.curves is None
    assert here.standings.equals(there.standings)
    same(here.decided, there.decided)


def test_blocks_hold_every_unit_once_and_only_their_own_ratings(large):
    oil, state, _, hours = large
    blocks = list(unit_blocks(*large, SETTINGS, units=BLOCK))
    assert len(blocks) > 1
    assert pl.concat([block.rows["unit_key"] for block in blocks]).equals(state["unit_key"])
    assert_array_equal(np.concatenate([block.hours for block in blocks]), hours)
    held = [key for block in blocks for key in block.oil.fits["debris"].unit_keys]
    assert held == [key for key in state["unit_key"] if key in oil.fits["debris"].unit_keys]
    assert len(pickle.dumps(blocks[0])) < len(pickle.dumps(large)) * 2 / len(blocks)


def test_standings_and_intervals_of_blocks_are_those_of_units_drawn_together(large):
    """Other random numbers, which fill the quantiles evenly: medians and hours differ by little."""
    oil, state, caps, hours = large
    found = score_units(*large, SETTINGS, block_units=BLOCK)
    keys = state["unit_key"].to_list()
    ratios = unit_draws(oil, state, SETTINGS, np.random.default_rng(8)).ratios
    low, median, high = np.quantile(ratios, (0.05, 0.5, 0.95), axis=1)
    once = {"hours_ratio": median, "hours_ratio_low": low, "hours_ratio_high": high}
    standings = found.standings.sort("unit_key")
    assert standings["unit_key"].to_list() == keys
    for name, most in (("hours_ratio", 0.06), ("hours_ratio_low", 0.12), ("hours_ratio_high", 0.12)):
        assert np.abs(np.log(standings[name] / once[name])).max() < most
    at_once = decide_units(oil_curves(oil, state, SETTINGS, np.random.default_rng(9)), caps, hours, SETTINGS)
    log_ratio = np.log(found.decided.intervals.unrounded_h / at_once.intervals.unrounded_h)
    assert np.abs(log_ratio).max() < 0.1
    assert np.abs(found.decided.risk_now - at_once.risk_now).max() < 0.02


def test_a_unit_without_ratings_gets_the_fleets_width(large):
    _, state, _, _ = large
    row = state["unit_key"].to_list().index("u007")
    number, place = divmod(row, BLOCK)
    block = list(unit_blocks(*large, SETTINGS, units=BLOCK))[number]
    standing = score_block(block).standings
    width = np.log(standing["hours_ratio_high"] / standing["hours_ratio_low"]).to_numpy()
    assert standing["rated"][place] == 0
    assert width[place] > width[standing["rated"].to_numpy() > 0].mean()


def test_curves_of_some_units_have_the_draws_of_their_intervals(large):
    """Units of the first and the last block, one of them never rated, so that its effect is drawn from the fleet."""
    oil, state, _, hours = large
    scored = score_units(oil, state, {}, hours, SETTINGS, block_units=BLOCK)
    rows = np.array([0, 3, state["unit_key"].to_list().index("u007"), 204, 239])
    rows.sort()
    some = curves_of_rows(oil, None, state, rows, SETTINGS, Backwards(), block_units=BLOCK)
    assert some.units == rows.size
    intervals = scored.decided.intervals
    found = np.minimum(risk_interval(some, SETTINGS.accepted_risk), intervals.cost_h[rows])
    np.testing.assert_allclose(found, intervals.unrounded_h[rows], rtol=1e-9)
    again = curves_of_rows(oil, some, state[rows], np.array([1]), SETTINGS, HERE, block_units=BLOCK)
    assert_array_equal(again.channels["debris"].threshold, some.channels["debris"].threshold[1:2])


def test_no_unit_has_no_curve(large):
    oil, state, _, _ = large
    assert curves_of_rows(oil, None, state, np.arange(0), SETTINGS, HERE, block_units=BLOCK).units == 0
