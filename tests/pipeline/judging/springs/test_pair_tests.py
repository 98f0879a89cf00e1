import numpy as np
import pytest
from scipy.stats import chi2
from spring_logs import crossed, fitted, rated

from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.judging.springs.pair_tests import information_a_drain, merged_test
from draincurve.schemas.settings import Priors

VAGUE = Priors(
    first_threshold_sd=100.0, gap_log_sd=10.0, hours_slope_log_sd=10.0, coefficient_sd=100.0, unit_sd=100.0
)
THREE = ("Plain", "Stepped", "Coated")


def of_pair(fit, first, second):
    term = next(term for term in fit.drains.terms if term.column == "spring_type")
    at = fit.drains.terms.index(term)
    contrast = term.contrasts[term.levels.index(first)] - term.contrasts[term.levels.index(second)]
    return fit.fit, fit.drains.spans()[at], contrast


def merged_test_of(fit, first, second, **more):
    point_fit, columns, contrast = of_pair(fit, first, second)
    return merged_test(point_fit, columns, contrast=contrast, **more)


@pytest.fixture(scope="module")
def trial():
    return fitted(rated(crossed(9, 12, THREE), 1, {"Stepped": 1.0}))


@pytest.mark.parametrize(("with_units", "tolerance"), [(False, 2e-3), (True, 0.1)])
@pytest.mark.parametrize(("contrast", "left"), [((1.0, 0.0), "Coated"), ((0.0, 1.0), "Stepped")])
def test_with_vague_priors_it_is_the_ratio_of_two_maximum_likelihood_fits(with_units, tolerance, contrast, left):
    """Indicators of two of three springs against the column of one alone, by maximum likelihood.

    With units a difference stays: the mode is over the log of their spread, which favours a larger one.
    """
    rows = rated(crossed(9, 14, THREE), 7, {"Stepped": 1.0, "Coated": -0.7}, unit_sd=0.8)
    ratings = np.array([row["debris"] for row in rows])
    log_hours = np.log([row["oil_hours"] for row in rows])
    units = [row["unit_id"] for row in rows] if with_units else None
    is_of = {name: np.array([row["spring_type"] == name for row in rows], dtype=float) for name in THREE}
    apart = np.column_stack((is_of["Stepped"], is_of["Coated"]))
    full = fit_rating_model(ratings, log_hours, apart, units)
    merged = fit_rating_model(ratings, log_hours, is_of[left][:, None], units)
    expected = 2 * (full.log_likelihood - merged.log_likelihood)
    with_priors = fit_rating_model(ratings, log_hours, apart, units, prior=VAGUE, levels=5)
    found = merged_test(with_priors, slice(0, 2), contrast=np.array(contrast))
    assert expected > 1.0
    assert found.statistic == pytest.approx(expected, rel=tolerance)


def test_the_order_of_the_two_does_not_matter(trial):
    one, other = merged_test_of(trial, "Stepped", "Plain"), merged_test_of(trial, "Plain", "Stepped")
    assert one.statistic == pytest.approx(other.statistic, abs=1e-6)
    assert one.unit_scores == pytest.approx(-other.unit_scores, abs=1e-5)
    assert one.information == pytest.approx(other.information, rel=1e-5)


def test_the_score_test_agrees_to_first_order(trial):
    found = merged_test_of(trial, "Coated", "Plain")
    by_score = np.sum(found.unit_scores) ** 2 / found.information
    assert chi2.sf(by_score, 1) == pytest.approx(found.p_value, abs=0.03)


def test_the_information_is_that_of_the_fit(trial):
    """Information on the difference against the inverse variance of its posterior draws."""
    fit, columns, contrast = of_pair(trial, "Coated", "Plain")
    found = merged_test(fit, columns, contrast=contrast)
    assert found.information == pytest.approx(1.0 / np.var(trial.coefficients[:, columns] @ contrast), rel=0.35)


def test_the_score_test_alone_is_close(trial):
    usual = merged_test_of(trial, "Coated", "Plain")
    quick = merged_test_of(trial, "Coated", "Plain", by_score=True)
    assert quick.p_value == pytest.approx(usual.p_value, abs=0.03)
    assert quick.information == pytest.approx(usual.information, rel=0.1)


def test_the_fit_that_is_given_is_not_changed(trial):
    before = trial.fit.objective.likelihood.ratings.design.copy()
    merged_test_of(trial, "Stepped", "Coated")
    assert np.array_equal(before, trial.fit.objective.likelihood.ratings.design)


def test_information_of_a_drain_is_at_most_that_of_a_logit_rating(trial):
    """A rating on the logit scale carries at most 1/3 (the variance of a uniform score on -1 to 1)."""
    assert 0.05 < information_a_drain(trial.fit) < 1 / 3
