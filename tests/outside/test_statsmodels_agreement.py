"""Without a unit effect the rating model is a plain ordinal regression; with two levels a binary one.

Oracles: statsmodels OrderedModel (logit, probit) and GLM (Binomial with logit, probit, complementary log-log), fitted
here on the same simulated rows. OrderedModel adds 1e-20 inside its logarithm, which is below every tolerance used.
"""

import numpy as np
import pytest
from statsmodels.genmod.families import Binomial, links
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.miscmodels.ordinal_model import OrderedModel

from draincurve.pipeline.fitting.rating_model import fit_rating_model

CUTS = np.array([3.0, 4.6, 6.1, 7.7])


def simulated(seed=4, n=800):
    rng = np.random.default_rng(seed)
    log_hours = np.log(rng.uniform(4, 40, n))
    design = np.column_stack((rng.normal(size=n), rng.random(n) < 0.4)).astype(float)
    eta = 2.0 * log_hours + design @ [0.5, -0.7] + rng.logistic(size=n)
    return 1 + np.searchsorted(CUTS, eta), log_hours, design


@pytest.mark.parametrize("link", ["logit", "probit"])
def test_five_levels_agree_with_ordered_model(link):
    ratings, log_hours, design = simulated()
    fit = fit_rating_model(ratings, log_hours, design, None, link=link)
    model = OrderedModel(ratings, np.column_stack((log_hours, design)), distr=link)
    theirs = model.fit(method="bfgs", disp=False, gtol=1e-8, maxiter=500)
    ours = np.concatenate(([fit.hours_slope], fit.coefficients))
    assert fit.log_likelihood == pytest.approx(theirs.llf, abs=1e-6)
    assert fit.log_likelihood >= theirs.llf - 1e-8
    assert ours == pytest.approx(theirs.params[:3], abs=1e-4)
    assert fit.thresholds == pytest.approx(model.transform_threshold_params(theirs.params)[1:-1], abs=5e-4)
    # Their errors of the thresholds are for logs of the gaps; the columns' can be compared as they are.
    assert fit.standard_errors[4:] == pytest.approx(theirs.bse[:3], rel=1e-3)


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
def test_two_levels_are_a_binary_regression_on_log_hours(link):
    ratings, log_hours, design = simulated(seed=5)
    past = ratings >= 4
    fit = fit_rating_model(1 + past, log_hours, design, None, link=link)
    family = Binomial({"logit": links.Logit(), "probit": links.Probit(), "cloglog": links.CLogLog()}[link])
    columns = np.column_stack((-np.ones(past.size), log_hours, design))
    theirs = GLM(past.astype(float), columns, family=family).fit(tol=1e-12, maxiter=100)
    ours = np.concatenate((fit.thresholds, [fit.hours_slope], fit.coefficients))
    assert ours == pytest.approx(theirs.params, abs=1e-5)
    assert fit.log_likelihood == pytest.approx(theirs.llf, abs=1e-7)
    observed = -theirs.model.hessian(theirs.params)
    assert fit.standard_errors == pytest.approx(np.sqrt(np.diag(np.linalg.inv(observed))), rel=1e-5)


@pytest.mark.parametrize("link", ["logit", "probit"])
def test_units_that_do_not_differ_change_nothing(link):
    """A spread at zero: the marginal likelihood is the plain one."""
    ratings, log_hours, design = simulated(seed=6)
    # Rows alike in every unit: no unit is dirtier than chance has it.
    units = np.argsort(np.argsort(ratings, kind="stable"), kind="stable") % 20
    plain = fit_rating_model(ratings, log_hours, design, None, link=link)
    with_units = fit_rating_model(ratings, log_hours, design, units, link=link)
    assert with_units.unit_sd == pytest.approx(0.0, abs=1e-3)
    assert with_units.log_likelihood == pytest.approx(plain.log_likelihood, abs=1e-5)
    assert with_units.thresholds == pytest.approx(plain.thresholds, abs=1e-3)
