"""A reading that differs in one unit keeps the effects of every other one, and draws those that changed anew."""

import numpy as np
import pytest
from joined_channels import CHANNELS, drains_of, fits_of, rated

from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.fitting.joint.joint_fit import join_channels
from draincurve.schemas.settings import Priors, Settings

UNITS, DRAINS = 8, 10


@pytest.fixture(scope="module")
def known():
    """The log without the first three drains of its last unit, joined."""
    drains = drains_of(UNITS, DRAINS, 0.5, 3.0, seed=11)
    rows = np.flatnonzero((drains.unit < UNITS - 1) | (np.arange(drains.unit.size) % DRAINS >= 3))
    fits = fits_of(drains, colour=rows, debris=rows)
    return drains, join_channels(fits, Priors(), rng=np.random.default_rng(1))


@pytest.fixture(scope="module")
def reading(known):
    """All drains, each channel's draws weighted from the known ones."""
    drains, (fits, joint) = known
    whole = {
        name: fit_channel(
            rated(drains, side), Settings(), rng=np.random.default_rng(2), effects_later=True, near=fits[name]
        )
        for side, name in enumerate(CHANNELS)
    }
    return whole, join_channels(whole, Priors(), rng=np.random.default_rng(1), near=(fits, joint))


def kept_draws(whole):
    places = [fit.posterior.known_at for fit in whole.values()]
    return np.logical_and.reduce([place == np.arange(place.size) for place in places])


def test_effects_of_unchanged_units_are_the_known_ones_wherever_the_draw_is(known, reading) -> None:
    (_, joint), (whole, (_, found)) = known[1], reading
    kept = kept_draws(whole)
    assert 0.3 < kept.mean() < 1.0
    assert found.unit_keys == joint.unit_keys
    np.testing.assert_array_equal(found.effects[:, kept, :-1], joint.effects[:, kept, :-1])
    assert not np.any(found.effects[:, ~kept, :-1] == joint.effects[:, ~kept, :-1])
    assert not np.any(found.effects[:, :, -1] == joint.effects[:, :, -1])
    assert found.association is joint.association


def test_effects_are_distributed_as_those_drawn_for_the_reading_alone(reading) -> None:
    whole, (_, found) = reading
    _, alone = join_channels(whole, Priors(), rng=np.random.default_rng(3))
    sd = alone.effects.std(axis=1)
    np.testing.assert_allclose((found.effects.mean(axis=1) - alone.effects.mean(axis=1)) / sd, 0.0, atol=0.2)
    np.testing.assert_allclose(found.effects.std(axis=1) / sd, 1.0, atol=0.15)


def test_each_channel_has_its_side_of_the_effects(reading) -> None:
    _, (fits, found) = reading
    for side, name in enumerate(found.channels):
        np.testing.assert_array_equal(fits[name].effects, found.effects[side])


def test_draws_that_were_made_for_the_log_alone_keep_nothing(known) -> None:
    drains, (fits, joint) = known
    _, found = join_channels(fits_of(drains), Priors(), rng=np.random.default_rng(1), near=(fits, joint))
    assert not np.any(found.effects == joint.effects)
