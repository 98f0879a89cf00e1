import numpy as np
import polars as pl
import pytest
from drained_fleets import fitted, log_of, state_of_log

from draincurve.pipeline.deciding.expected_information_gain import channel_information, rating_information
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.posterior.posterior_draws import sample_posterior
from draincurve.pipeline.fitting.rating_model import PointFit, fit_rating_model
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects
from draincurve.pipeline.fitting.unit_effects.unit_sensitivity import unit_sensitivity
from draincurve.schemas.settings import Priors, Settings

FARTHER_H = 25.0
AGELESS = Settings(priors=Priors(part_age=0.0, part_age_sd=0.001))
CUTS = np.array([[-2.0, -0.5, 0.7, 2.4], [-6.0, -4.0, -3.5, 0.1], [0.5, 3.0, 5.0, 9.0]])


@pytest.mark.parametrize("link", sorted(LINKS))
def test_information_is_the_mean_square_of_the_score(link: str) -> None:
    law, step = LINKS[link], 1e-5

    def chances(cuts: np.ndarray) -> np.ndarray:
        return np.diff(np.concatenate(([0.0], law.cdf(cuts), [1.0])))

    for cuts, found in zip(CUTS, rating_information(link, CUTS), strict=True):
        slopes = [(chances(cuts + step * row) - chances(cuts - step * row)) / (2 * step) for row in np.eye(4)]
        wanted = np.einsum("kj,lj,j->kl", slopes, slopes, 1.0 / np.maximum(chances(cuts), 1e-12))
        assert found == pytest.approx(wanted, rel=1e-4, abs=1e-7)


def test_slopes_of_the_unit_modes_against_differences() -> None:
    fit = fitted(log_of(units=4, drains=5, seed=3))
    likelihood, plan = fit.fit.objective.likelihood, fit.fit.objective.layout
    at = plan.natural(fit.posterior.draws).mean(axis=0)
    found = unit_sensitivity(likelihood, at)
    for j in range(at.size):
        step = 1e-5 * np.eye(at.size)[j]
        ahead, behind = unit_sensitivity(likelihood, at + step).modes, unit_sensitivity(likelihood, at - step).modes
        assert found.slopes[:, j] == pytest.approx((ahead - behind) / 2e-5, rel=1e-4, abs=1e-6)


@pytest.mark.parametrize(("units", "drains", "log_sd", "seed"), [(2, 3, 0.5, 14), (3, 4, 0.05, 11)])
def test_expected_drop_against_refitting_with_every_rating_the_drain_could_get(
    units: int, drains: int, log_sd: float, seed: int
) -> None:
    """The mean of the variance over the ratings, weighted by their chances: what the drop is an expectation of.

    The drop is a straight-line reckoning from the information matrix; on a dozen drains it is good to a factor of
    two, which is enough to put candidates in order.
    """
    log = log_of(units, drains, seed, log_sd=log_sd)
    state = state_of_log(log)
    at = channel_information(fitted(log, AGELESS), state, state, np.array([0]), np.array([FARTHER_H]), 4, 0.1)
    to_fleet, to_unit = at.expected_drops()
    *before, chances = _spread(_plain(log, None))
    after = [_spread(_plain(log, rating))[:2] for rating in range(1, 6)]
    wanted = 1 - (chances @ np.array(after)) / np.array(before)
    assert wanted.min() > 0.05
    assert [at.intervals.fleet_variance, at.intervals.unit_variances[0]] == pytest.approx(before, rel=0.3)
    shares = np.array([to_fleet[0] / at.intervals.fleet_variance, to_unit[0] / at.intervals.unit_variances[0]])
    assert np.all((shares > wanted / 2.0) & (shares < wanted * 2.0))


def test_a_drain_had_leaves_less_to_tell_and_never_widens() -> None:
    drains = log_of(units=6, drains=4, seed=5)
    fit = fitted(drains)
    row, hours = np.repeat(np.arange(6), 3), np.tile([6.0, 12.0, 24.0], 6)
    state = state_of_log(drains)
    before = channel_information(fit, state, state, row, hours, 4, 0.1)
    best = int(np.argmax(before.expected_drops()[0]))
    after = before.after(best)
    left = before.intervals.fleet_variance - before.expected_drops()[0][best]
    assert after.intervals.fleet_variance == pytest.approx(left)
    assert np.all(after.intervals.unit_variances <= before.intervals.unit_variances + 1e-12)
    assert np.all(np.array(after.expected_drops()) >= 0)


def _plain(drains: pl.DataFrame, rating: int | None) -> PointFit:
    """The log alone, or with one more drain of the first unit at FARTHER_H that got a rating."""
    ratings, hours = drains["debris_low"].to_list(), np.log(drains["oil_hours"]).to_list()
    units = drains["unit_key"].to_list()
    if rating is not None:
        ratings, hours, units = [*ratings, rating], [*hours, np.log(FARTHER_H)], [*units, units[0]]
    return fit_rating_model(ratings, hours, None, np.array(units), prior=Priors(), levels=5)


def _spread(fit: PointFit) -> tuple[float, float, np.ndarray]:
    """Variance of log hours at the accepted risk, typical unit and first unit; chances of its ratings there."""
    rng = np.random.default_rng(7)
    posterior = sample_posterior(fit, 8000, rng=rng, draws_per_round=16_000)
    thresholds, columns, spread = fit.natural_draws(posterior.draws)
    natural = fit.objective.layout.natural(posterior.draws)
    effect = spread * draw_unit_effects(fit.objective.likelihood, natural, rng=rng)[:, 0]
    slope = columns[:, 0]
    typical = (thresholds[:, 2] - np.log(9.0)) / slope
    cuts = thresholds - (slope * np.log(FARTHER_H) + effect)[:, None]
    below = 1.0 / (1.0 + np.exp(-cuts))
    ends = np.zeros((below.shape[0], 1))
    chances = np.diff(np.hstack((ends, below, ends + 1)), axis=1).mean(axis=0)
    return float(np.var(typical)), float(np.var(typical - effect / slope)), chances
