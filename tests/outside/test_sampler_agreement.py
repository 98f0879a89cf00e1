"""The posterior against long runs of a general-purpose sampler, and the density itself against plain integration.

The long runs stand in long_runs/summaries.json; `python -m tests.outside.long_runs` made them with emcee
(Foreman-Mackey, Hogg, Lang & Goodman 2013, PASP 125, 306-312). They share the density with the program, so they test
the importance resampling; the density is written anew here with scipy's distributions and its integrator.
"""

import json

import numpy as np
import pytest
from long_runs.data_sets import NAMES, SUMMARIES, data_set, fitted, rider_coding, tenth_hours
from scipy import integrate, stats
from scipy.special import expit

from draincurve.pipeline.fitting.posterior.posterior_draws import sample_posterior

PROPOSALS = {"six units": 80_000, "rider and spring": 25_000, "all clean": 120_000}
"""Enough that the noise of our own points is well under the tolerance."""
LONG_RUNS = json.loads(SUMMARIES.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", NAMES)
def test_means_and_tails_agree_with_the_long_run(name):
    run, fit = LONG_RUNS[name], fitted(name)
    assert run["least_effective_draws"] >= 20_000
    posterior = sample_posterior(fit, 40_000, rng=np.random.default_rng(1), draws_per_round=PROPOSALS[name])
    assert posterior.trusted
    draws = np.column_stack((posterior.draws, tenth_hours(fit, posterior.draws)))
    sd = np.array(run["sd"])
    assert (draws.mean(axis=0) - run["mean"]) / sd == pytest.approx(np.zeros(sd.size), abs=0.05)
    for level, points in ((0.05, run["low"]), (0.95, run["high"])):
        assert (np.quantile(draws, level, axis=0) - points) / sd == pytest.approx(np.zeros(sd.size), abs=0.1)


@pytest.mark.parametrize("name", NAMES)
def test_with_the_default_number_of_draws_the_noise_is_what_the_effective_draws_say(name):
    """Means of four runs scatter about the long run's by no more than twice 1 / sqrt(effective draws)."""
    run, fit = LONG_RUNS[name], fitted(name)
    sd = np.array(run["sd"])[:-1]
    apart, expected = [], []
    for seed in range(4):
        posterior = sample_posterior(fit, 1000, rng=np.random.default_rng(seed))
        apart.append((posterior.draws.mean(axis=0) - run["mean"][:-1]) / sd)
        expected.append(1.0 / posterior.effective_sample_size + 1.0 / 1000)
    assert np.sqrt(np.mean(np.square(apart))) < 2.0 * np.sqrt(np.mean(expected))


@pytest.mark.parametrize("name", NAMES)
def test_the_long_run_was_made_for_this_density(name):
    run, fit = LONG_RUNS[name], fitted(name)
    assert fit.maximum.point.working == pytest.approx(np.array(run["mode"]), abs=1e-5)
    at_mode = fit.objective.log_density(np.array(run["mode"])[None, :])[0]
    assert at_mode == pytest.approx(run["log_density_at_mode"], abs=1e-8)


@pytest.mark.parametrize("name", NAMES)
def test_density_against_one_written_anew(name):
    """Differences between points, since the program's density leaves out no constant but is used up to one."""
    fit = fitted(name, n_nodes=25)
    mode = fit.maximum.point.working
    rng = np.random.default_rng(3)
    sd = np.sqrt(np.diag(np.linalg.inv(-fit.maximum.hessian)))
    points = mode + np.minimum(sd, 0.7) * rng.standard_normal((6, mode.size))
    wanted = [plain_log_density(name, point, fit.centres) for point in points]
    assert fit.objective.log_density(points) == pytest.approx(np.array(wanted), abs=1e-5)


def plain_log_density(name, working, centres):
    """Log posterior density at working parameters: priors of scipy, the unit effect by adaptive integration."""
    data = data_set(name)
    columns = [np.array(data["log_hours"])]
    total = stats.norm(0, 5).logpdf(working[0]) + stats.norm(np.log(1.5), 0.7).logpdf(working[1:4]).sum()
    total += stats.norm(np.log(2), 0.5).logpdf(working[4])
    weights, at = [np.exp(working[4])], 5
    if "spring" in data:
        columns.append(np.array(data["spring"]) / np.sqrt(2))
        total += stats.norm(0, 1).logpdf(working[at])
        weights.append(working[at])
        at += 1
    if "rider" in data:
        spread = np.exp(working[at + 3])
        columns += list(rider_coding()[data["rider"]].T)
        total += stats.norm(0, 1).logpdf(working[at : at + 3]).sum()
        total += stats.halfnorm(scale=0.5).logpdf(spread) + working[at + 3]
        weights += list(spread * working[at : at + 3])
    unit_sd = np.exp(working[-1])
    total += stats.halfnorm(scale=1).logpdf(unit_sd) + working[-1]
    eta = (np.column_stack(columns) - centres) @ np.array(weights)
    cuts = np.concatenate(([-np.inf], np.cumsum([working[0], *np.exp(working[1:4])]), [np.inf]))
    ratings, units = np.array(data["ratings"]), np.array(data["units"])
    return total + sum(_log_of_unit(ratings[units == u], eta[units == u], cuts, unit_sd) for u in np.unique(units))


def _log_of_unit(ratings, eta, cuts, unit_sd):
    def joint(z):
        above = expit(cuts[ratings] - eta - unit_sd * z)
        below = expit(cuts[ratings - 1] - eta - unit_sd * z)
        return np.prod(above - below) * np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)

    grid = np.linspace(-8, 8, 65)
    top = max(joint(z) for z in grid)
    area, _ = integrate.quad(lambda z: joint(z) / top, -9, 9, points=(-3, -1, 0, 1, 3), epsabs=1e-9, limit=200)
    return np.log(area) + np.log(top)
