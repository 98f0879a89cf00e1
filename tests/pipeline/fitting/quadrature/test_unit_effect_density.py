"""A unit's density from factors against the density probability by probability."""

from itertools import pairwise

import numpy as np
import pytest
from invented_ratings import invented_log, likelihood_of

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import log_joint_density, unit_mode
from draincurve.pipeline.fitting.quadrature.logit_factors import bound_exponentials
from draincurve.pipeline.fitting.quadrature.unit_effect_density import (
    unit_effect_mode,
    unit_factors,
    unit_log_density,
)

SIZES = [1, 2, 40, 400]


@pytest.mark.parametrize("link", LINKS)
def test_factors_give_the_density_and_its_mode(link):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=9), link, 9)
    drains, starts = likelihood.drains(natural), likelihood.slices.starts
    memory = np.empty((3, max(SIZES)))
    for first, last in pairwise(starts):
        unit = unit_factors(drains, first, last, bound_exponentials(drains.bounds), memory)
        assert (unit.factors.size > 0) == (link == "logit")
        for z in (-300.0, -12.0, -1.0, 0.0, 0.3, 4.0, 60.0, 300.0):
            assert unit_log_density(drains, first, last, unit, z) == pytest.approx(
                log_joint_density(drains, first, last, z), rel=1e-10, abs=1e-10
            )
        for start in (-3.0, 0.0, 8.0):
            assert unit_effect_mode(drains, first, last, unit, start) == pytest.approx(
                unit_mode(drains, first, last, start), rel=1e-8, abs=1e-9
            )
