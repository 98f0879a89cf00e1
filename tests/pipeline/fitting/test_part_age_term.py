"""The term of part age in the fit and in what is predicted from it."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.unit_thresholds import typical_threshold_draws
from draincurve.pipeline.judging.link_choice import _mode_under
from draincurve.schemas.settings import Priors, Settings

ABSENT = ("drained_ml", "filled_ml", "settle_hours", "spring_hours")
NAMES = ("oil_grade", "rider", "rated_by", "surface", "site", "spring_type", "drain_method")
THRESHOLDS = np.array([-3.0, -1.5, 0.0, 1.5])


def log_of(units: int, drains: int, wear: float, seed: int = 1) -> pl.DataFrame:
    """Fills of about 12 h, and `wear` added to the logit of a rating at each fill of a unit."""
    rng = np.random.default_rng(seed)
    unit, at = np.repeat(np.arange(units), drains), np.tile(np.arange(drains), units)
    hours = 12.0 * np.exp(0.5 * rng.standard_normal(unit.size))
    predictor = 2.2 * np.log(hours / 12.0) + wear * (at - drains / 2) + 0.5 * rng.standard_normal(units)[unit]
    rating = 1 + np.sum(predictor[:, None] + rng.logistic(size=(unit.size, 1)) > THRESHOLDS + 1.0, axis=1)
    return pl.DataFrame(
        {
            "unit_key": [f"u{number:02d}" for number in unit],
            "unit_id": [f"U{number:02d}" for number in unit],
            "drained_on": [date(2026, 1, 1) + timedelta(days=int(7 * number)) for number in at],
            "line": np.arange(unit.size) + 2,
            "oil_hours": hours,
            "debris_low": rating,
            "debris_high": rating,
            "service_kind": "oil",
        }
    ).with_columns(
        *(pl.lit(None, dtype=pl.Float64).alias(name) for name in ABSENT),
        *(pl.lit(None, dtype=pl.String).alias(name) for name in NAMES),
    )


def fitted(log: pl.DataFrame, settings: Settings | None = None) -> ChannelFit:
    found = fit_channel(describe_channel(log, "debris"), settings or Settings(), rng=np.random.default_rng(2))
    assert isinstance(found, ChannelFit)
    return found


def at_age(fit: ChannelFit, *hours: float) -> np.ndarray:
    state = pl.DataFrame({"part_age": hours})
    return typical_threshold_draws(fit, state, limit=4, priors=Priors(), rng=np.random.default_rng(3)).mean(axis=1)


@pytest.mark.parametrize("link", sorted(LINKS))
def test_where_every_drain_is_the_first_of_its_part_the_prior_alone_speaks(link: str) -> None:
    fit = fitted(log_of(40, 1, 0.0), Settings(link=link))
    (term,) = fit.drains.terms
    effect, scale = fit.coefficients[:, 0] / LINKS[link].scale, term.scale
    assert effect.mean() == pytest.approx(0.5, abs=0.15)
    assert effect.std() == pytest.approx(1.0, abs=0.15)
    new, one_life = at_age(fit, 0.0, scale)
    assert new - one_life == pytest.approx(effect.mean() * LINKS[link].scale)


def test_wear_is_found_and_a_worn_part_has_the_lower_threshold() -> None:
    fit = fitted(log_of(40, 10, 0.2))
    (term,) = fit.drains.terms
    fills_a_life = term.scale / 12.0 / np.exp(0.125)
    assert np.quantile(fit.coefficients, 0.05) < 0.2 * fills_a_life < np.quantile(fit.coefficients, 0.95)
    new, worn, older = at_age(fit, 0.0, term.largest, 2.0 * term.largest)
    assert new > worn > older


def test_parts_that_run_in_do_so_no_longer_than_the_oldest_seen() -> None:
    fit = fitted(log_of(40, 10, -0.3))
    assert fit.coefficients.mean() < 0.0
    new, oldest, older = at_age(fit, 0.0, fit.drains.terms[0].largest, 2.0 * fit.drains.terms[0].largest)
    assert new < oldest == older


def test_minutes_in_place_of_hours_change_the_scale_only() -> None:
    log = log_of(12, 6, 0.1)
    hours, minutes = fitted(log), fitted(log.with_columns(pl.col("oil_hours") * 60.0))
    assert minutes.fit.coefficients == pytest.approx(hours.fit.coefficients, abs=1e-6)
    assert minutes.fit.thresholds == pytest.approx(hours.fit.thresholds + hours.fit.hours_slope * np.log(60.0))


@pytest.mark.parametrize("link", ["probit", "cloglog"])
def test_links_are_compared_under_the_same_prior(link: str) -> None:
    settings = Settings(priors=Priors(part_age=1.7, part_age_sd=0.3))
    log = log_of(8, 6, 0.1)
    other = _mode_under(fitted(log, settings), LINKS[link], settings=settings)[0].prior
    own = fitted(log, Settings(link=link, priors=settings.priors)).fit.objective.prior
    assert other is not None
    assert own is not None
    assert np.array_equal(other.mean, own.mean)
    assert np.array_equal(other.sd, own.sd)
