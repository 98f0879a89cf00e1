"""The seasonal curve of a site: found where riding follows the season, flat where it does not."""

from __future__ import annotations

import numpy as np

from draincurve.pipeline.deciding.riding_season import (
    CURVES,
    WEEKS_OF_YEAR,
    YEAR_WEEKS,
    site_seasonal_curves,
)


def test_a_season_is_found_and_goes_on():
    generator = np.random.default_rng(1)
    units = np.full(WEEKS_OF_YEAR, 20.0)
    at = np.arange(WEEKS_OF_YEAR) + 0.5
    seen, ahead = 0.8 * np.sin(-2 * np.pi * at / YEAR_WEEKS), 0.8 * np.sin(2 * np.pi * at / YEAR_WEEKS)
    hours = 2.0 * generator.poisson(units * 2.0 * np.exp(seen))
    found_seen, found_ahead = site_seasonal_curves(hours, units, rng=np.random.default_rng(2))
    assert found_seen.shape == found_ahead.shape == (CURVES, WEEKS_OF_YEAR)
    assert np.abs(found_seen.mean(axis=0) - seen).max() < 0.25
    assert np.abs(found_ahead.mean(axis=0) - ahead).max() < 0.25


def test_half_a_year_leaves_doubt_about_the_other_half():
    generator = np.random.default_rng(3)
    units = np.where(np.arange(WEEKS_OF_YEAR) < 26, 20.0, 0.0)
    at = np.arange(WEEKS_OF_YEAR) + 0.5
    hours = 2.0 * generator.poisson(units * 2.0 * np.exp(0.8 * np.cos(2 * np.pi * at / YEAR_WEEKS)))
    _, ahead = site_seasonal_curves(hours, units, rng=np.random.default_rng(2))
    relative = ahead - ahead[:, :1]
    assert relative[:, 18].std() > 3 * relative[:, 1].std()


def test_riding_without_a_season_is_mostly_flat():
    generator = np.random.default_rng(4)
    units = np.full(WEEKS_OF_YEAR, 20.0)
    flat = 0
    for seed in range(20):
        seen, _ = site_seasonal_curves(3.0 * generator.poisson(2.0 * units), units, rng=np.random.default_rng(seed))
        flat += int((seen == 0).all(axis=1).sum())
        assert np.abs(seen).max() < 0.3
    assert flat > 0.7 * 20 * CURVES


def test_too_few_weeks_have_no_season():
    units = np.zeros(WEEKS_OF_YEAR)
    units[:4] = 3.0
    seen, ahead = site_seasonal_curves(4.0 * units, units, rng=np.random.default_rng(2))
    assert not seen.any()
    assert not ahead.any()
