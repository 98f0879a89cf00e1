"""Measured quantities joined with channels: invented fleets whose iron goes with the debris, or does not."""

import numpy as np
import polars as pl
import pytest
from joined_channels import Drains, drains_of, fits_of
from measured_iron import iron_of

from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.degradation.fitted_quantity import FittedWear, fits_of_series
from draincurve.pipeline.fitting.joint.joint_fit import join_channels
from draincurve.pipeline.fitting.joint.unit_condition import with_conditions_joined
from draincurve.schemas.settings import Settings

SETTINGS = Settings()


def joined(drains: Drains, series: WearSeries, seed: int = 1):
    """Fits and joint before, and everything after the quantity is joined."""
    fits, joint = join_channels(fits_of(drains), SETTINGS.priors, rng=np.random.default_rng(seed))
    wear = (fits_of_series(series, SETTINGS),)
    after = with_conditions_joined(fits, joint, (series,), wear, rng=np.random.default_rng(seed))
    return joint, wear, after


@pytest.fixture(scope="module")
def drains() -> Drains:
    return drains_of(24, 6, 0.5, 4.0, seed=8)


@pytest.fixture(scope="module")
def agreeing(drains):
    return joined(drains, iron_of(drains, 0.95, readings=4, units=18, seed=2))


def test_where_iron_goes_with_debris_it_sharpens_the_effects(drains, agreeing):
    before, _, (fits, after, ((quantity,),)) = agreeing
    condition = quantity.fit.goes_with
    low, middle, high = condition.low, condition.median, condition.high
    assert (condition.channel, condition.units) == ("debris", 18)
    assert low > 0.3
    assert low < middle < high
    error_before, error_after = (
        np.abs(joint.effects[1].mean(axis=0) - drains.effects[1])[:18].mean() for joint in (before, after)
    )
    assert error_after < 0.75 * error_before
    assert after.effects[1].std(axis=0)[:18].mean() < 0.9 * before.effects[1].std(axis=0)[:18].mean()
    assert (after.effects[:, :, 18:] == before.effects[:, :, 18:]).all()
    assert (fits["debris"].effects == after.effects[1]).all()


def test_a_dirty_tray_sharpens_the_line_of_iron(drains, agreeing):
    """Units without a reading get lines of their own, nearer to their true iron than the fleet's."""
    _, ((before,),), (_, _, ((after,),)) = agreeing
    assert isinstance(after, FittedWear)
    columns = dict(after.groups.select("unit_key", "column").iter_rows())
    assert set(columns) == {f"u{unit:03d}" for unit in range(24)}
    assert after.groups.filter(pl.col("readings") == 0).height == 6
    at = after.median_h
    value = (after.lines.level + at * after.lines.slope).mean(axis=0)
    own = np.array([value[columns[f"u{unit:03d}"]] for unit in range(18, 24)]) - value[after.lines.new_unit]
    assert np.corrcoef(own, drains.effects[1, 18:])[0, 1] > 0.5
    new = before.lines.level_variance[:, -1].mean()
    assert all(after.lines.level_variance[:, columns[f"u{unit:03d}"]].mean() < new for unit in range(18, 24))


def test_where_iron_says_nothing_of_debris_nothing_moves_far(drains):
    before, _, (_, after, ((quantity,),)) = joined(drains, iron_of(drains, 0.0, readings=4, units=24, seed=5))
    assert quantity.fit.goes_with.low < 0.0 < quantity.fit.goes_with.high
    moved = np.abs(after.effects[1].mean(axis=0) - before.effects[1].mean(axis=0))
    assert moved.mean() < 0.2
    error_before, error_after = (
        np.square(joint.effects[1].mean(axis=0) - drains.effects[1]).mean() for joint in (before, after)
    )
    assert error_after < 1.15 * error_before


def test_readings_in_doubt_tell_nothing_of_a_channel(drains):
    series = iron_of(drains, 0.95, readings=4, units=18, seed=2, in_doubt=True)
    before, _, (_, after, (quantity,)) = joined(drains, series)
    assert isinstance(quantity[-1], str)
    assert (after.effects == before.effects).all()


def test_one_channel_alone_is_left_as_it_is(drains):
    fits = {"debris": fits_of(drains)["debris"]}
    series = iron_of(drains, 0.95, readings=4, units=18, seed=2)
    wear = (fits_of_series(series, SETTINGS),)
    found = with_conditions_joined(fits, None, (series,), wear, rng=np.random.default_rng(1))
    assert found == (fits, None, wear)
