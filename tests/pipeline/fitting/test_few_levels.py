"""Logs of a shop that uses two ratings of the five: its drains say where the limit is, not the gaps of the prior."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.rated_drains import RatedDrains
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.judging.backtest.model_predictions import fit_as_of, predicted_rating_probabilities
from draincurve.pipeline.judging.changepoints.monitored_drains import monitored_drains
from draincurve.pipeline.processing import FitProcessing
from draincurve.schemas.settings import Settings

SETTINGS = Settings(posterior_draws=400)


def coarse_log(clean, past, units=8, drains=12, seed=4):
    """Drains of oil that is past fit from log hours of 2.6 on, rated `clean` or `past` only."""
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), drains)
    log_hours = 2.5 + 0.5 * rng.standard_normal(unit.size)
    seen = 2.2 * (log_hours - 2.6) + 0.5 * rng.standard_normal(units)[unit] + rng.logistic(size=unit.size)
    ratings = np.where(seen > 0, past, clean).astype(np.int64)
    keys = np.array([f"f{index}" for index in unit], dtype=object)
    rows = pl.DataFrame({"unit_key": keys.tolist(), "oil_hours": np.exp(log_hours)}).with_columns(
        pl.lit("oil").alias("service_kind"), pl.date(2026, 1, 1).alias("drained_on")
    )
    return RatedDrains("debris", rows, ratings, ratings, log_hours, np.empty((unit.size, 0)), keys, (), ())


@pytest.mark.parametrize(("clean", "past"), [(1, 4), (2, 4), (1, 5), (3, 5)])
def test_the_answer_does_not_depend_on_which_two_ratings_a_shop_uses(clean, past):
    drains = coarse_log(clean, past)
    other = coarse_log(3, 4)
    as_ranges = replace(other, low=np.where(other.low >= 4, 4, 1), high=np.where(other.low >= 4, 5, 3))
    by_ranges = fit_channel(as_ranges, SETTINGS, rng=np.random.default_rng(1))
    found = fit_channel(drains, SETTINGS, rng=np.random.default_rng(1))
    np.testing.assert_array_equal(found.threshold_of(4), by_ranges.threshold_of(4))
    np.testing.assert_array_equal(found.hours_slope, by_ranges.hours_slope)


def test_the_limit_is_where_the_drains_have_it():
    found = fit_channel(coarse_log(1, 4, units=40), SETTINGS, rng=np.random.default_rng(1))
    at = found.threshold_of(4) / found.hours_slope
    assert abs(np.mean(at) - 2.6) < 2.5 * np.std(at)


def large_fleet_fit(drains):
    return fit_channel(
        drains, SETTINGS, rng=np.random.default_rng(1), processing=FitProcessing(normal_posterior=True)
    )


def backtest_fit(drains):
    return fit_as_of(drains, SETTINGS, rng=np.random.default_rng(1))


@pytest.mark.parametrize("normal_fit", [large_fleet_fit, backtest_fit])
def test_a_normal_posterior_has_the_limit_where_the_drains_have_it(normal_fit):
    """The first threshold and the gaps that no rating tells of are known as a sum only: a ridge that is not straight
    in the logs of the gaps. Its draws are those of the sampled posterior, to a fifth of an sd."""
    drains = coarse_log(1, 4, units=60)
    sampled = fit_channel(drains, SETTINGS, rng=np.random.default_rng(1))
    normal = normal_fit(drains)
    apart = normal.threshold_of(4).mean() - sampled.threshold_of(4).mean()
    assert abs(apart) < 0.2 * sampled.threshold_of(4).std()


def test_predictions_and_simulated_logs_hold_the_shop_s_ratings_only():
    fit = fit_as_of(coarse_log(1, 4), SETTINGS, rng=np.random.default_rng(1))
    rows = fit.drains.rows
    predicted = predicted_rating_probabilities(fit, rows, priors=SETTINGS.priors, rng=np.random.default_rng(2))
    assert np.all(predicted[:, [1, 2, 4]] == 0.0)
    np.testing.assert_allclose(predicted.sum(axis=1), 1.0)
    watched = monitored_drains(OilFit({"debris": fit}, None), SETTINGS.priors, rng=np.random.default_rng(4))
    low, high = watched.simulated_ratings(3, np.random.default_rng(5))
    assert set(zip(low.ravel().tolist(), high.ravel().tolist(), strict=True)) == {(1, 3), (4, 5)}
