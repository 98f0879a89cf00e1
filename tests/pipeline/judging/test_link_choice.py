"""Links compared: scores of left-out units against brute force, the sentence, the spread of the answer."""

import numpy as np
import polars as pl
import pytest
from judged_log import fitted_fleet
from scipy.special import logsumexp
from watched_fleets import FleetOptions, watched_log

from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.posterior.proposals import nested_proposal
from draincurve.pipeline.fitting.unit_thresholds import typical_threshold_draws
from draincurve.pipeline.judging.leave_unit_out import leave_unit_out
from draincurve.pipeline.judging.link_choice import FEWEST_UNITS, compare_links
from draincurve.schemas.settings import Settings


@pytest.fixture(scope="module")
def fit():
    return fitted_fleet(watched_log(FleetOptions(units=8, drains=12)))


@pytest.fixture(scope="module")
def combinations():
    return pl.DataFrame(
        {
            "spring_type": ["Plain 46", "Stepped 46"],
            "oil_grade": ["Fork 5", "Fork 5"],
            "drains": [90, 6],
            "settling": [0.15, 0.15],
            "freshness": [0.0, 0.0],
            "carry_over": [0.0, 0.0],
        }
    )


def log_evidence(objective, mode, draws, rng):
    """Log of the integral of likelihood x prior by plain importance sampling: no Laplace anywhere."""
    proposal = nested_proposal(objective, mode)
    points = proposal.draw(draws, rng)
    return float(logsumexp(objective.log_density(points) - proposal.log_density(points)) - np.log(draws))


def without(objective, unit):
    """The same log without one unit, copied row by row."""
    data = objective.likelihood.ratings
    keep = np.ones(data.low.size, dtype=bool)
    keep[data.starts[unit] : data.starts[unit + 1]] = False
    sizes = np.delete(np.diff(data.starts), unit)
    rest = Ratings(
        data.low[keep],
        data.high[keep],
        np.ascontiguousarray(data.design[keep]),
        np.concatenate(([0], np.cumsum(sizes))),
        data.levels,
        True,
    )
    return Objective(Likelihood(rest, objective.likelihood.link, nodes=9), objective.layout, objective.prior)


def test_scores_agree_with_refitting_and_sampling_without_each_unit(fit):
    objective, mode = fit.fit.objective, fit.fit.maximum.point
    units = np.arange(8)
    quick = leave_unit_out(objective, mode, units=units)
    rng = np.random.default_rng(0)
    whole = log_evidence(objective, mode.working, 1500, rng)
    slow = []
    for unit in units:
        rest = without(objective, int(unit))
        slow.append(whole - log_evidence(rest, rest.maximise(mode.working).point.working, 1500, rng))
    assert quick.refitted > 0
    np.testing.assert_allclose(quick.scores, slow, atol=0.45)
    assert quick.scores.sum() == pytest.approx(sum(slow), abs=1.2)
    assert np.corrcoef(quick.scores, slow)[0, 1] > 0.99


def test_scores_do_not_depend_on_which_units_are_asked_for(fit):
    objective, mode = fit.fit.objective, fit.fit.maximum.point
    every = leave_unit_out(objective, mode, units=np.arange(8)).scores
    some = leave_unit_out(objective, mode, units=np.array([1, 6])).scores
    np.testing.assert_allclose(some, every[[1, 6]], rtol=1e-9)


def test_the_comparison_names_the_best_and_keeps_the_one_in_use(fit, combinations):
    found = compare_links(fit, combinations, settings=Settings())
    assert {item.link for item in found.links} == {"logit", "probit", "cloglog"}
    assert found.links[0].difference == 0.0
    assert all(item.difference <= 0.0 for item in found.links)
    assert found.used == "logit"
    assert (found.units, found.scored) == (8, 8)
    assert found.spring_type == "Plain 46"
    assert found.hours_ratio >= 1.0
    assert f"{found.hours_ratio:.2f}x" in found.sentences[1]


def test_hours_at_risk_lie_among_the_posterior_draws(fit, combinations):
    settings = Settings()
    found = compare_links(fit, combinations, settings=settings)
    hours = next(item.hours_at_risk for item in found.links if item.link == "logit")
    thresholds = typical_threshold_draws(
        fit,
        combinations.head(1),
        limit=settings.limit_rating("debris"),
        priors=settings.priors,
        rng=np.random.default_rng(1),
    )
    z = np.linspace(-3, 3, 61)
    weights = np.exp(-0.5 * z**2)
    seen = thresholds[0][:, None] - fit.unit_sd[:, None] * z - (fit.hours_slope * np.log(hours))[:, None]
    risks = (1 / (1 + np.exp(seen))) @ weights / weights.sum()
    low, high = np.quantile(risks, (0.2, 0.8))
    assert low < settings.accepted_risk < high


def test_a_log_that_one_link_made_is_foretold_better_by_it(combinations):
    log = watched_log(FleetOptions(units=40, drains=25, spread=0.3, link="cloglog"), seed=2)
    found = compare_links(fitted_fleet(log), combinations, settings=Settings())
    assert found.links[0].link == "cloglog"
    assert 'link = "cloglog"' in found.sentences[0]


def test_few_units_give_a_sentence(combinations):
    fit = fitted_fleet(watched_log(FleetOptions(units=FEWEST_UNITS - 1, drains=6)))
    assert "units" in compare_links(fit, combinations, settings=Settings())


def test_without_a_combination_there_is_a_sentence(fit, combinations):
    assert isinstance(compare_links(fit, combinations.clear(), settings=Settings()), str)
