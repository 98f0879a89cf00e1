"""A unit's density from factors against the density chance by chance."""

from itertools import pairwise

import numpy as np
import pytest
from invented_ratings import invented_log, likelihood_of

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import log_joint, unit_mode
from draincurve.pipeline.fitting.quadrature.logit_factors import cut_factors
from draincurve.pipeline.fitting.quadrature.unit_effect_density import factored, log_density, mode_of

SIZES = [1, 2, 40, 400]


@pytest.mark.parametrize("link", LINKS)
def test_factors_give_the_density_and_its_mode(link):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=9), link, 9)
    drains, starts = likelihood.drains(natural), likelihood.groups.starts
    memory = np.empty((3, max(SIZES)))
    for first, last in pairwise(starts):
        unit = factored(drains, first, last, cut_factors(drains.cuts), memory)
        assert (unit.factors.size > 0) == (link == "logit")
        for z in (-300.0, -12.0, -1.0, 0.0, 0.3, 4.0, 60.0, 300.0):
            assert log_density(drains, first, last, unit, z) == pytest.approx(
                log_joint(drains, first, last, z), rel=1e-10, abs=1e-10
            )
        for start in (-3.0, 0.0, 8.0):
            assert mode_of(drains, first, last, unit, start) == pytest.approx(
                unit_mode(drains, first, last, start), rel=1e-8, abs=1e-9
            )
