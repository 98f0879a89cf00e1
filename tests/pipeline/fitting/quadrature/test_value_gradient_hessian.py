"""One pass over the drains against the separate sums that it stands for, which have their own outside checks."""

import numpy as np
import pytest
from invented_ratings import invented_log, likelihood_of

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.newton import maximise
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.prior import prior_for
from draincurve.pipeline.fitting.quadrature.louis_identity import louis_hessian
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.schemas.settings import Priors

SIZES = [1, 2, 3, 10, 60, 4, 1, 7]


def by_separate_sums(likelihood, natural):
    value, gradient = likelihood.value_and_gradient(natural)
    data = likelihood.ratings
    return value, gradient, louis_hessian(
        likelihood.drains(natural), data.design, likelihood.slices, likelihood.modes, likelihood.rule
    )  # fmt: skip


@pytest.mark.parametrize("scale", [1.0, 40.0])
@pytest.mark.parametrize("nodes", [7, 9])
@pytest.mark.parametrize("link", LINKS)
def test_value_gradient_and_hessian_are_those_of_the_separate_sums(link, nodes, scale):
    """A scale of 40 lays drains so far out that products of exponentials would overflow."""
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=3), link, nodes)
    natural = natural * (scale if link == "logit" else 1.0)
    value, gradient, hessian = by_separate_sums(likelihood, natural)
    found = likelihood.expansion(natural)
    assert found.value == pytest.approx(value, rel=1e-11)
    assert found.gradient == pytest.approx(gradient, rel=1e-9, abs=1e-9 * np.abs(gradient).max())
    assert found.hessian == pytest.approx(hessian, rel=1e-8, abs=1e-9 * np.abs(hessian).max())


LONG_SIZES = [*([20] * 70), 1300, *([3] * 90), 500, 40]
"""Pieces that are full of units, full of drains, and one unit that is longer than a piece."""


@pytest.mark.parametrize("columns", [2, 90])
@pytest.mark.parametrize("link", ["logit", "probit"])
def test_pieces_of_many_units_and_units_longer_than_a_piece_add_up(link, columns, monkeypatch):
    """A design of 90 columns makes short pieces."""
    monkeypatch.setattr("draincurve.pipeline.fitting.likelihood.BLOCKS", 2)
    log = invented_log(LONG_SIZES, seed=7, coefficients=np.linspace(-0.3, 0.3, columns))
    likelihood, natural = likelihood_of(log, link, 9)
    value, gradient, hessian = by_separate_sums(likelihood, natural)
    found = likelihood.expansion(natural)
    assert found.value == pytest.approx(value, rel=1e-11)
    assert found.gradient == pytest.approx(gradient, rel=1e-9, abs=1e-9 * np.abs(gradient).max())
    assert found.hessian == pytest.approx(hessian, rel=1e-8, abs=1e-9 * np.abs(hessian).max())


def test_sums_have_the_same_bits_on_any_number_of_threads(all_threads):
    likelihood, natural = likelihood_of(invented_log(LONG_SIZES, seed=7), "logit", 9)
    likelihood.expansion(natural)
    modes = likelihood.modes.copy()
    found = likelihood.expansion(natural)
    likelihood.modes[:] = modes
    with one_thread():
        alone = likelihood.expansion(natural)
    assert alone.value == found.value
    assert np.array_equal(alone.gradient, found.gradient)
    assert np.array_equal(alone.hessian, found.hessian)


def test_far_out_drains_leave_the_quick_way():
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=3), "logit", 9)
    extent = np.abs(likelihood.drains(40.0 * natural).fixed).max() + np.abs(40.0 * natural[:4]).max()
    assert extent > 150.0


def test_partitions_of_units_add_up_to_the_whole():
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=5), "logit", 9)
    whole = likelihood.expansion(natural)
    parts = [likelihood.of_units(np.array(units)) for units in ([0, 1, 2], [3, 4], [5, 6, 7])]
    total = parts[0].expansion(natural) + parts[1].expansion(natural) + parts[2].expansion(natural)
    assert total.value == pytest.approx(whole.value, rel=1e-13)
    assert total.gradient == pytest.approx(whole.gradient, rel=1e-9, abs=1e-11)
    assert total.hessian == pytest.approx(whole.hessian, rel=1e-9, abs=1e-11)


def test_a_part_holds_the_rows_of_its_units_in_their_order():
    likelihood, _ = likelihood_of(invented_log(SIZES, seed=5), "logit", 9)
    part = likelihood.of_units(np.array([4, 1])).ratings
    starts, low = likelihood.ratings.starts, likelihood.ratings.low
    assert part.low.tolist() == [*low[starts[4] : starts[5]], *low[starts[1] : starts[2]]]
    assert part.starts.tolist() == [0, 60, 62]


@pytest.mark.parametrize("link", LINKS)
def test_quadratic_models_reach_the_mode_that_newton_reaches(link, monkeypatch):
    """With pooled groups, along whose bent ridges Newton's steps are short."""
    sizes = [8] * 400
    log = invented_log(sizes, seed=11, link=link)
    riders = np.random.default_rng(1).integers(4, size=log.low.size)
    design = np.eye(4)[riders] + 0.6 * np.eye(4)[riders][:, ::-1]
    passes = []
    counted = Likelihood.expansion
    monkeypatch.setattr(Likelihood, "expansion", lambda self, natural: passes.append(1) or counted(self, natural))
    fit = fit_rating_model(
        log.low,
        log.log_hours,
        design,
        log.units,
        link=link,
        prior=Priors(),
        ratings_high=log.high,
        levels=5,
        pooled=((0, 1, 2, 3),),
        single_pass=True,
    )
    slow = maximise(fit.objective.evaluate, fit.objective.hessian, start=fit.maximum.point.working + 0.05)
    assert fit.converged
    assert isinstance(fit.objective, Objective)
    assert fit.maximum.point.value == pytest.approx(slow.point.value, abs=1e-7)
    natural = fit.objective.layout.natural
    assert natural(fit.maximum.point.working) == pytest.approx(natural(slow.point.working), abs=2e-5)
    assert len(passes) <= 40


def test_quadratic_models_reach_the_mode_from_a_start_at_which_one_leads_downhill():
    """Another link's mode, rescaled: from there the quadratic plus the prior has a mode at a unit sd of zero."""
    log = invented_log([20] * 400, seed=2)
    fit = fit_rating_model(
        log.low,
        log.log_hours,
        log.design,
        log.units,
        prior=Priors(),
        ratings_high=log.high,
        levels=5,
        single_pass=True,
    )
    layout, link = fit.objective.layout, LINKS["cloglog"]
    ones, zeros = np.ones(layout.columns), np.zeros(layout.columns)
    prior = prior_for(layout, Priors(), link=link, column_scales=ones, column_means=zeros)
    other = Objective(Likelihood(fit.objective.likelihood.ratings, link, nodes=9), layout, prior, single_pass=True)
    ratio = link.scale / LINKS["logit"].scale
    start = fit.maximum.point.working.copy()
    start[[0, 5, 6]] *= ratio
    start[[1, 2, 3, 4, 7]] += np.log(ratio)
    slow = maximise(other.evaluate, other.hessian, start=start)
    quick = other.maximise(start, near_mode=True)
    assert quick.converged
    assert quick.point.value == pytest.approx(slow.point.value, abs=1e-6)
