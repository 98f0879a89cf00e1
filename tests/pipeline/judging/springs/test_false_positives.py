"""Size of the tests on simulated logs without any difference between springs: about nominal."""

import numpy as np
import pytest

from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.judging.springs.pair_tests import merged_test, permutation_p_value
from draincurve.schemas.settings import Priors

CUTS = np.array([-2.0, -0.2, 1.6, 3.3])
LOGS = 200
HELMERT = np.sqrt(0.5)  # the coding of two levels


def p_values(rng, units, drains, crossed):
    """(likelihood ratio, relabelling) p-values of one log in which two springs are alike; riders differ."""
    unit = np.repeat(np.arange(units), drains)
    order = np.tile(np.arange(drains), units)
    spring = (unit + order // 2) % 2 if crossed else unit % 2
    rider = rng.integers(0, 2, unit.size)
    log_hours = rng.normal(0.0, 0.35, unit.size)
    eta = 2.3 * log_hours + 0.45 * rng.standard_normal(units)[unit] + 0.3 * rider
    ratings = 1 + np.searchsorted(CUTS, eta + rng.logistic(size=unit.size))
    design = np.column_stack((np.where(spring == 1, HELMERT, -HELMERT), np.where(rider == 1, HELMERT, -HELMERT)))
    fit = fit_rating_model(
        ratings, log_hours, design, unit, prior=Priors(), levels=5, pooled=[[1]], column_scales=[np.sqrt(2), 1.0]
    )
    found = merged_test(fit, slice(0, 1), contrast=np.array([2 * HELMERT]))
    return found.p_value, permutation_p_value(found.unit_scores, rng)


@pytest.mark.parametrize(("units", "drains", "crossed"), [(8, 8, True), (10, 6, False)])
def test_false_positives_are_about_nominal(units, drains, crossed):
    """5 % and 10 % with 200 logs each; the bounds are three binomial standard errors, above only for harm."""
    rng = np.random.default_rng(20260101)
    found = np.array([p_values(rng, units, drains, crossed) for _ in range(LOGS)])
    for level in (0.05, 0.10):
        slack = 3.0 * np.sqrt(level * (1 - level) / LOGS)
        ratio, relabelled = np.mean(found <= level, axis=0)
        assert level - slack < ratio < level + slack
        assert level - slack < relabelled < level + slack
    both = np.mean((found <= 0.05).all(axis=1))
    assert both <= 0.05 + 0.02
