"""Two ratings of one oil: they tell how raters differ, and are no further look at the oil."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.double_ratings import (
    RaterEvidence,
    _updated,
    rater_evidence,
    scores,
    with_double_ratings,
)
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.unit_thresholds import threshold_draws
from draincurve.schemas.settings import Priors, Settings
from tests.calibration.double_rated import double_rated_log

BIAS = 1.0


def fitted(drains: pl.DataFrame, second: pl.DataFrame | None) -> ChannelFit:
    rated = describe_channel(drains, "debris")
    rated = rated if second is None else rated.with_second(second)
    found = fit_channel(rated, Settings(), rng=np.random.default_rng(1), effects_later=True)
    assert isinstance(found, ChannelFit)
    return with_double_ratings(found).with_effects()


def difference(fit: ChannelFit) -> np.ndarray:
    """Draws of what KB rates dirtier than TW, on the scale of the link."""
    term, span = next(
        pair for pair in zip(fit.drains.terms, fit.drains.spans(), strict=True) if pair[0].column == "rated_by"
    )
    assert term.levels == ("KB", "TW")
    return np.asarray(fit.coefficients[:, span] @ (term.contrasts[0] - term.contrasts[1]))


@pytest.fixture(scope="module")
def fits():
    fleet = double_rated_log(np.random.default_rng(4), share=0.5, units=20, drains=10, bias=BIAS)
    drains, second = fleet.by_reference
    again = fleet.ways()["as rows"][0]
    return {"first": fitted(drains, None), "pairs": fitted(drains, second), "looks": fitted(again, None)}


def test_pairs_tell_how_raters_differ(fits):
    without, told = difference(fits["first"]), difference(fits["pairs"])
    assert abs(told.mean() - BIAS) < 2.5 * told.std()
    assert told.std() < 0.75 * without.std()


def test_draws_that_pairs_moved_are_neither_known_draws_nor_of_known_density(fits):
    fit = fits["pairs"]
    at_hand = replace(fit.posterior, log_density=np.zeros(fit.draws), known_at=np.arange(fit.draws))
    moved = with_double_ratings(replace(fit, posterior=at_hand)).posterior
    assert not np.array_equal(moved.draws, at_hand.draws)
    assert moved.log_density is None
    assert moved.known_at is None


def test_pairs_are_no_further_look_at_the_oil(fits):
    """For the average eye the units' thresholds stay as wide as they were; as further rows they would narrow."""
    width = {}
    for way, fit in fits.items():
        keys = list(fit.unit_keys)
        state = pl.DataFrame({"unit_key": keys, "rated_by": pl.Series([None] * len(keys), dtype=pl.String)})
        state = state.with_columns(part_age=0.0)
        draws = threshold_draws(fit, state, limit=4, priors=Priors(), rng=np.random.default_rng(2))
        width[way] = float(draws.std(axis=1).mean())
    assert width["pairs"] > 0.97 * width["first"]
    assert width["looks"] < 0.95 * width["first"]


def test_raters_who_agree_tell_more_than_independent_ones():
    """The information is adjusted by the scatter of the pairs, with four independent ones added."""
    fleet = double_rated_log(np.random.default_rng(7), share=0.5, units=20, drains=10, bias=0.0)
    drains, second = fleet.by_reference
    fit = fitted(drains, second)
    rng = np.random.default_rng(8)
    levels = pl.Series(rng.permutation(second["debris_low"].to_numpy()))
    dealt = second.with_columns(levels.alias("debris_low"), levels.alias("debris_high"))
    shuffled = replace(fit, drains=fit.drains.with_second(dealt))
    alike, apart = (rater_evidence(one) for one in (fit, shuffled))
    assert alike.information[0, 0] > 1.3 * apart.information[0, 0]


def test_without_second_ratings_or_raters_nothing_changes(fits):
    assert rater_evidence(fits["first"]) is None
    fleet = double_rated_log(np.random.default_rng(4), share=0.5, units=6, drains=6)
    kb_alone = describe_channel(fleet.drains, "debris").with_second(fleet.by_reference[1])
    found = fit_channel(kb_alone, Settings(), rng=np.random.default_rng(1))
    assert rater_evidence(found) is None


@pytest.mark.parametrize("name", LINKS)
def test_scores_are_derivatives_of_log_probabilities(name):
    link, cuts = LINKS[name], np.array([-1.0, 0.2, 1.1, 2.5])
    low, high = np.array([1, 2, 3, 5, 1]), np.array([1, 3, 3, 5, 4])
    at = np.array([-0.4, 0.3, 1.0, 2.0, 0.5])

    def log_probability(predictor):
        over = np.vstack([np.ones(5), *(link.survival(cut - predictor) for cut in cuts), np.zeros(5)])
        rows = np.arange(5)
        return np.log(over[low - 1, rows] - over[high, rows])

    found, information = scores(link, cuts, at, low=low, high=high)
    step = 1e-5
    assert found == pytest.approx((log_probability(at + step) - log_probability(at - step)) / (2 * step), abs=1e-6)
    levels = np.arange(1, 6)
    squares = [
        scores(link, cuts, np.full(5, one), low=levels, high=levels)[0] ** 2 @ chances
        for one, chances in ((at[1], -np.diff([1.0, *link.survival(cuts - at[1]), 0.0])),)
    ]
    assert information[1] == pytest.approx(squares[0])


@pytest.mark.parametrize("error", [0.3, 1.0, 1.8, 3.0])
def test_fit_and_pairs_are_combined_as_least_squares_combines_errors_that_go_together(error):
    """Two estimates with variances 1 and v and covariance v / 2: generalised least squares, by the textbook."""
    draws = np.random.default_rng(3).standard_normal((200_000, 2)) @ np.array([[1.0, 0.6], [0.0, 0.8]])
    found = _updated(draws, np.array([0]), RaterEvidence(np.array([1.5]), np.array([[1.0 / error]])))
    covariance = np.array([[1.0, error / 2], [error / 2, error]])
    weights = np.linalg.solve(covariance, np.ones(2))
    weights /= weights.sum()
    helps = error < 2.0
    assert found[:, 0].mean() == pytest.approx(1.5 * weights[1] if helps else 0.0, abs=0.01)
    assert found[:, 0].var() == pytest.approx(weights @ covariance @ weights if helps else 1.0, rel=0.01)
    assert found[:, 1].mean() == pytest.approx(0.6 * found[:, 0].mean(), abs=0.01)
