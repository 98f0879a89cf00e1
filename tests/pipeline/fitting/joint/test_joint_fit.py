"""Two channels joined: what is found back, what stays as it is, and units that only one channel knows."""

from dataclasses import replace

import numpy as np
import pytest
from joined_channels import CHANNELS, drains_of, fits_of
from scipy.special import roots_hermite
from scipy.stats import beta

from draincurve.pipeline.fitting.joint.association import (
    NODES,
    Association,
    log_likelihoods,
    sampled_association,
)
from draincurve.pipeline.fitting.joint.joint_effects import joint_unit_effects
from draincurve.pipeline.fitting.joint.joint_fit import join_channels, joint_effect_draws
from draincurve.pipeline.fitting.joint.pair_quadrature import fill_bounds, log_density
from draincurve.pipeline.fitting.joint.paired_drains import channel_ratings, paired_drains
from draincurve.schemas.settings import Priors, Settings

PRIORS = Priors()
FEW_DRAWS = Settings(posterior_draws=400)


def joined(fits, seed: int = 1, priors: Priors = PRIORS):
    return join_channels(fits, priors, rng=np.random.default_rng(seed))


@pytest.mark.parametrize(("correlation", "odds_ratio"), [(0.0, 1.0), (0.9, 8.0), (0.9, 1.0), (0.0, 8.0)])
def test_correlation_and_odds_ratio_are_found_back(correlation: float, odds_ratio: float) -> None:
    """Means over three fleets of 40 units with 20 drains: sd of one fleet is about 0.2 and 0.15."""
    found = []
    for seed in range(3):
        _, joint = joined(fits_of(drains_of(40, 20, correlation, odds_ratio, seed=seed), FEW_DRAWS))
        found.append((joint.association.correlation.mean(), joint.association.log_odds_ratio.mean()))
    mean = np.mean(found, axis=0)
    assert mean[0] == pytest.approx(correlation, abs=0.3)
    assert mean[1] == pytest.approx(np.log(odds_ratio), abs=0.3)


def test_a_log_that_cannot_tell_gives_the_prior_back() -> None:
    """Each unit is rated on one channel only: nothing speaks of either number."""
    drains = drains_of(12, 8, 0.5, 3.0, seed=4)
    first = drains.unit < 6
    _, joint = joined(fits_of(drains, colour=np.flatnonzero(first), debris=np.flatnonzero(~first)))
    association = joint.association
    assert association.correlation.mean() == pytest.approx(1 / 3, abs=0.06), "the mean of 2 Beta(2, 1) - 1"
    prior_sd = 2 * beta(PRIORS.unit_correlation_high, PRIORS.unit_correlation_low).std()
    assert association.correlation.std() == pytest.approx(prior_sd, rel=0.1)
    assert association.log_odds_ratio.mean() == pytest.approx(PRIORS.log_odds_ratio, abs=0.1)
    assert association.log_odds_ratio.std() == pytest.approx(PRIORS.log_odds_ratio_sd, rel=0.1)
    assert len(joint.unit_keys) == 12


def test_one_channel_and_three_are_left_as_they_are() -> None:
    fits = fits_of(drains_of(6, 6, 0.5, 2.0, seed=5))
    alone, joint = joined({"debris": fits["debris"]})
    assert joint is None
    assert alone["debris"] is fits["debris"]
    third = replace(fits["debris"], drains=replace(fits["debris"].drains, channel="smell"))
    three, joint = joined(fits | {"smell": third})
    assert joint is None
    assert list(three) == [*CHANNELS, "smell"]
    assert joined({}) == ({}, None)


def test_parameters_stay_each_channels_own_and_draws_are_of_one_number() -> None:
    drains = drains_of(6, 8, 0.5, 2.0, seed=6)
    fits = fits_of(drains) | {"debris": fits_of(drains, FEW_DRAWS)["debris"]}
    both, joint = joined(fits)
    assert {fit.draws for fit in both.values()} == {400}
    assert joint.effects.shape == (2, 400, 6)
    np.testing.assert_array_equal(both["debris"].hours_slope, fits["debris"].hours_slope)
    assert np.isin(both["colour"].hours_slope, fits["colour"].hours_slope).all()


def test_the_same_seed_gives_the_same_bits_and_the_order_of_drains_does_not_matter() -> None:
    drains = drains_of(8, 6, 0.5, 2.0, seed=7)
    _, one = joined(fits_of(drains))
    _, again = joined(fits_of(drains))
    np.testing.assert_array_equal(one.effects, again.effects)
    fits = fits_of(drains)
    turned = np.arange(drains.unit.size)[::-1].copy()
    _, other = joined(fits | {"debris": fits_of(drains, debris=turned)["debris"]})
    assert other.association.log_odds_ratio.mean() == pytest.approx(one.association.log_odds_ratio.mean(), abs=0.05)


def test_drains_are_matched_and_what_one_channel_lacks_is_missing() -> None:
    drains = drains_of(5, 4, 0.0, 1.0, seed=8)
    some = np.flatnonzero(np.arange(20) % 3 > 0)
    fits = fits_of(drains, debris=some)
    pairs = paired_drains(fits["colour"], fits["debris"])
    assert pairs.rows.shape == (2, 20)
    assert (pairs.rows[0] >= 0).all()
    assert (pairs.rows[1] >= 0).sum() == some.size
    seen = pairs.rows[1] >= 0
    np.testing.assert_array_equal(some[pairs.rows[1, seen]], pairs.rows[0, seen])
    np.testing.assert_array_equal(np.sort(pairs.rows[0]), np.arange(20))
    assert pairs.unit_keys == tuple(f"u{unit:03d}" for unit in range(5))
    assert np.diff(pairs.starts).tolist() == [4] * 5


def test_drains_that_are_rated_alike_need_no_join_and_are_paired_the_same() -> None:
    drains = drains_of(6, 5, 0.5, 2.0, seed=3)
    alike = list(fits_of(drains).values())
    alone = fits_of(drains, debris=np.arange(29))["debris"]
    quick, joined = paired_drains(*alike), paired_drains(alike[0], alone)
    assert quick.unit_keys == joined.unit_keys
    np.testing.assert_array_equal(quick.starts, joined.starts)
    np.testing.assert_array_equal(quick.rows, np.tile(joined.rows[0], (2, 1)))
    assert joined.rows[1, -1] == -1


def test_effects_of_correlated_channels_move_together() -> None:
    drains = drains_of(30, 12, 1.0, 1.0, seed=9)
    fits = fits_of(drains)
    both, joint = joined(fits)
    apart = [np.corrcoef(fits[name].effects.mean(axis=0), drains.effects[0])[0, 1] for name in CHANNELS]
    together = [np.corrcoef(both[name].effects.mean(axis=0), drains.effects[0])[0, 1] for name in CHANNELS]
    assert min(together) > min(apart)
    within = [np.corrcoef(joint.effects[0, :, unit], joint.effects[1, :, unit])[0, 1] for unit in range(30)]
    assert np.mean(within) > 0.4, "what is doubtful of a unit is doubtful on both channels"


def test_a_unit_known_on_one_channel_tells_of_the_other_and_an_unknown_one_is_the_fleets() -> None:
    drains = drains_of(30, 14, 1.0, 1.0, seed=10)
    bare = drains.unit == np.argmax(drains.effects[0])
    both, joint = joined(fits_of(drains, debris=np.flatnonzero(~bare)))
    keys = [f"u{np.argmax(drains.effects[0]):03d}", "new"]
    effects = joint_effect_draws(both, joint, keys, rng=np.random.default_rng(2))
    assert keys[0] not in both["debris"].unit_keys
    assert effects["colour"][0].mean() > 0.3
    assert effects["debris"][0].mean() > 0.4 * effects["colour"][0].mean()
    assert effects["debris"][1].mean() == pytest.approx(0.0, abs=0.1)
    assert effects["debris"][1].std() == pytest.approx(1.0, abs=0.1)
    rho = np.corrcoef(effects["colour"][1], effects["debris"][1])[0, 1]
    assert rho == pytest.approx(joint.association.correlation.mean(), abs=0.1)


@pytest.mark.parametrize("of_readings", [(0.0, 0.0, 0.0, 0.0), (3.0, 2.0, -1.0, 0.5)])
def test_draws_of_effects_follow_their_density(of_readings: tuple[float, ...]) -> None:
    """Against weights on a fine grid, at the parameters' posterior mean: means and sds of each unit's effects.

    of_readings : what measured values say of the effects, as a linear and a quadratic coefficient of either
    """
    fits = fits_of(drains_of(6, 10, 0.8, 6.0, seed=11))
    pairs = paired_drains(*fits.values())
    draws, rho, odds_ratio = 4000, 0.8, 6.0
    sides = []
    for side, fit in enumerate(fits.values()):
        mean = fit.fit.objective.layout.natural(fit.posterior.draws).mean(axis=0, keepdims=True)
        sides.append(channel_ratings(fit, pairs.rows[side], np.repeat(mean, draws, axis=0)))
    association = Association(np.full(draws, rho), np.full(draws, np.log(odds_ratio)))
    found = joint_unit_effects(
        *sides,
        pairs.starts,
        link=0,
        association=association,
        rng=np.random.default_rng(3),
        measured=np.broadcast_to(of_readings, (draws, 6, 4)).copy(),
    )
    factors = np.empty((4, pairs.rows.shape[1]))
    for side, one in enumerate(sides):
        fill_bounds(0, one.bounds[0], one.fixed[0], one.high, one.row, factors[2 * side])
        fill_bounds(0, one.bounds[0], one.fixed[0], one.low - 1, one.row, factors[2 * side + 1])
    sds = np.array([one.unit_sds[0] for one in sides])
    z = np.linspace(-4.5, 4.5, 121)
    for unit in range(6):
        span = int(pairs.starts[unit]), int(pairs.starts[unit + 1])
        logs = np.array([[log_density(0, factors, *span, sds * (a, b), odds_ratio) for b in z] for a in z])
        logs -= (z[:, None] ** 2 - 2 * rho * z[:, None] * z + z**2) / (2 * (1 - rho**2))
        first, second = ((linear - quadratic * z / 2) * z for linear, quadratic in (of_readings[:2], of_readings[2:]))
        logs += first[:, None] + second
        mass = np.exp(logs - logs.max())
        mass /= mass.sum()
        means = [float(z @ mass.sum(axis=1)), float(z @ mass.sum(axis=0))]
        sd = [np.sqrt((z - m) ** 2 @ mass.sum(axis=1 - i)) for i, m in enumerate(means)]
        assert found[:, :, unit].mean(axis=1) == pytest.approx(means, abs=0.08)
        assert found[:, :, unit].std(axis=1) == pytest.approx(sd, rel=0.08)


@pytest.mark.parametrize("seed", [12, 13, 14])
def test_draws_of_a_narrow_association_have_the_moments_of_a_fine_grid(seed: int) -> None:
    """2,400 drains, where the posterior is much narrower than a cell of the first grid."""
    fits = fits_of(drains_of(40, 60, 0.6, 5.0, seed=seed))
    pairs = paired_drains(*fits.values())
    sides = [
        channel_ratings(
            fit, pairs.rows[side], fit.fit.objective.layout.natural(fit.posterior.draws).mean(0, keepdims=True)
        )
        for side, fit in enumerate(fits.values())
    ]
    rng = np.random.default_rng(seed)
    drawn = sampled_association(*sides, pairs.starts, link=0, priors=PRIORS, draws=4000, rng=rng)
    logits = np.log((1 + drawn.correlation) / (1 - drawn.correlation))
    centre = [(values.mean(), values.std()) for values in (logits, drawn.log_odds_ratio)]
    axes = [np.linspace(mean - 5 * sd, mean + 5 * sd, 17) for mean, sd in centre]
    a, b = np.meshgrid(*axes, indexing="ij")
    x, weights = roots_hermite(NODES)
    points = np.column_stack((2 / (1 + np.exp(-a.ravel())) - 1, b.ravel()))
    values = log_likelihoods(0, *sides, pairs.starts, points, np.ascontiguousarray(x), np.log(weights) + x**2)
    share = 1 / (1 + np.exp(-a))
    logs = values.reshape(a.shape) + 2 * np.log(share) + np.log1p(-share) - 0.5 * (b - 0.5) ** 2
    mass = np.exp(logs - logs.max())
    mass /= mass.sum()
    for (mean, sd), grid in zip(centre, (a, b), strict=True):
        wanted = (mass * grid).sum()
        wanted_sd = np.sqrt((mass * (grid - wanted) ** 2).sum())
        assert mean == pytest.approx(wanted, abs=0.12 * wanted_sd)
        assert sd == pytest.approx(wanted_sd, rel=0.12)
