"""Parameter recovery on simulated fleets: fits of what the simulation drew must find what it put in."""

import numpy as np
import pytest

from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.simulation.fleet_arrays import simulate_arrays
from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan, Level
from draincurve.schemas.settings import Priors

FLEETS = 12
DEBRIS = ChannelPlan("debris", (3.2, 5.1, 6.9, 8.6), 2.4, 0.7)
TRUTH = np.array([*DEBRIS.thresholds, DEBRIS.hours_slope, -DEBRIS.hours_slope * np.log(0.6), DEBRIS.unit_sd])


def fleet_of(link):
    return FleetPlan(
        "recovery", 100, 1500, (DEBRIS,), springs=(Level("Plain 46"), Level("Stepped 46", {"debris": 0.6})), link=link
    )


def fitted(link, seed, **options):
    arrays = simulate_arrays(fleet_of(link), np.random.default_rng(seed))
    design = (arrays.spring == 1).astype(float)
    fit = fit_rating_model(
        arrays.ratings["debris"], np.log(arrays.oil_hours), design, arrays.unit, link=link, **options
    )
    return fit, arrays


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
def test_the_truth_is_found_within_the_noise_of_twelve_fleets(link):
    errors, claimed = [], []
    for seed in range(FLEETS):
        fit, _ = fitted(link, 100 + seed)
        found = np.concatenate((fit.thresholds, [fit.hours_slope], fit.coefficients, [fit.unit_sd]))
        errors.append(found - TRUTH)
        claimed.append(fit.standard_errors)
    errors, claimed = np.array(errors), np.array(claimed)
    noise = np.sqrt(np.mean(claimed**2, axis=0) / FLEETS)
    # 3.5 sd of the mean of twelve; maximum likelihood's own bias at 1,500 drains is a small part of it.
    assert np.all(np.abs(errors.mean(axis=0)) < 3.5 * noise)
    # What the fits claim is what they do: the standardised errors have a mean square about 1.
    assert np.mean((errors / claimed) ** 2) == pytest.approx(1.0, abs=0.6)


def test_units_are_told_apart_and_their_effects_shrink():
    fit, arrays = fitted("logit", 7, prior=Priors())
    truth = arrays.effects["debris"]
    assert fit.unit_labels == tuple(range(100))
    assert np.corrcoef(fit.unit_effects, truth)[0, 1] > 0.75
    assert np.std(fit.unit_effects) < np.std(truth)


def test_the_default_prior_hardly_moves_a_large_fleet():
    free, _ = fitted("logit", 8)
    held, _ = fitted("logit", 8, prior=Priors())
    found = [np.concatenate((f.thresholds, [f.hours_slope], f.coefficients, [f.unit_sd])) for f in (free, held)]
    assert np.all(np.abs(found[0] - found[1]) < 0.6 * free.standard_errors)
