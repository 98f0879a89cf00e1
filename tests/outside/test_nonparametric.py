"""The nonparametric estimate of current-status data: isotonic regression, by two other roads.

Sources: Ayer, Brunk, Ewing, Reid & Silverman (1955), Ann. Math. Stat. 26, 641-647: the max-min formula
max over a <= i of min over b >= i of the mean of a..b; Groeneboom & Wellner (1992): the left slope of the greatest
convex minorant of the cumulative sums.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from draincurve.pipeline.fitting.links import link_named
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.judging.isotonic_estimate import isotonic_estimate


def max_min(hours, past):
    distinct = np.unique(hours)
    count = np.array([np.sum(hours == h) for h in distinct])
    total = np.array([np.sum(past[hours == h]) for h in distinct])
    mean = {
        (a, b): total[a : b + 1].sum() / count[a : b + 1].sum()
        for a in range(distinct.size)
        for b in range(a, distinct.size)
    }
    last = distinct.size
    return [max(min(mean[a, b] for b in range(i, last)) for a in range(i + 1)) for i in range(last)]


def minorant_slopes(hours, past):
    distinct = np.unique(hours)
    count = np.array([np.sum(hours == h) for h in distinct])
    total = np.array([np.sum(past[hours == h]) for h in distinct])
    x, y = np.concatenate(([0], np.cumsum(count))), np.concatenate(([0], np.cumsum(total)))
    slopes, at = [], 0
    while at < distinct.size:
        ahead = (y[at + 1 :] - y[at]) / (x[at + 1 :] - x[at])
        to = at + 1 + np.flatnonzero(ahead <= ahead.min() + 1e-15)[-1]
        slopes += [ahead.min()] * (to - at)
        at = to
    return slopes


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=40))
def test_by_the_max_min_formula_and_by_the_convex_minorant(looks):
    hours = np.array([float(look[0]) for look in looks])
    past = np.array([float(look[1]) for look in looks])
    steps = isotonic_estimate(hours, past)
    assert steps.share == pytest.approx(max_min(hours, past), abs=1e-10)
    assert steps.share == pytest.approx(minorant_slopes(hours, past), abs=1e-10)
    assert np.all(np.diff(steps.share) >= -1e-12)
    assert steps.drains.sum() == hours.size


def test_the_fitted_curve_runs_through_the_steps_on_much_data():
    """20,000 looks at Weibull hours: both estimate the same distribution."""
    rng = np.random.default_rng(12)
    hours = np.round(rng.uniform(4, 40, 20_000), 1)
    past = (20.0 * rng.weibull(2.0, hours.size) <= hours).astype(int)
    fit = fit_rating_model(1 + past, np.log(hours), None, None, link="cloglog")
    steps = isotonic_estimate(hours, past.astype(float))
    curve = link_named("cloglog").survival(fit.thresholds[0] - fit.hours_slope * np.log(steps.hours))
    inner = (steps.hours > 6) & (steps.hours < 38)
    assert np.max(np.abs(curve - steps.share)[inner]) < 0.06
    truth = -np.expm1(-((steps.hours / 20) ** 2))
    assert np.max(np.abs(curve - truth)) < 0.02
