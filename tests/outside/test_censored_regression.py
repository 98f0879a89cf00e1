"""Left-censored regression against a published fit.

Source: the worked example of a Tobit model in the manual of a statistics package (SAS/STAT User's Guide, LIFEREG
procedure): hours worked, education and experience of 17 women, hours left-censored at nought (Mroz 1987). Printed
there: intercept -5598.64, education 373.1477, experience 63.3371, scale 1582.870, log likelihood -74.9369977. Data
and figures from memory; the fit gives every digit, which it would not if one were wrong. A line has one covariate, so
the other one is taken off with its published coefficient, at which the maximum is the same.
"""

import numpy as np
import pytest

from draincurve.pipeline.fitting.degradation.censored_lines import fit_censored
from draincurve.pipeline.fitting.degradation.linear_mixed_model import fit_degradation

WOMEN = """0 8 9  0 8 12  0 9 10  0 10 15  0 11 4  0 11 6  1000 12 1  1960 12 29  0 13 3  2100 13 36  3686 14 11
1920 14 38  0 15 14  1728 16 3  1568 16 19  1316 17 7  0 17 15"""
EDUCATION, EXPERIENCE = 373.1477, 63.3371


@pytest.mark.parametrize("free", [1, 2])
def test_a_published_left_censored_fit(free):
    rows = np.array(WOMEN.split(), dtype=float).reshape(-1, 3)
    other, coefficient = (2, EXPERIENCE) if free == 1 else (1, EDUCATION)
    fit, _ = fit_censored(
        rows[:, 0] - coefficient * rows[:, other],
        rows[:, free],
        unit=np.arange(len(rows)),
        side=np.where(rows[:, 0] == 0, -1, 0),
        rng=np.random.default_rng(1),
        structure="none",
    )
    assert fit.converged
    assert fit.coefficients[0] == pytest.approx(-5598.64, abs=0.005)
    assert fit.coefficients[1] == pytest.approx(EDUCATION if free == 1 else EXPERIENCE, abs=1e-4)
    assert np.sqrt(fit.residual_variance) == pytest.approx(1582.870, abs=0.001)
    assert fit.log_likelihood == pytest.approx(-74.9369977, abs=1e-6)


def test_without_bounds_it_is_the_other_fit():
    rng = np.random.default_rng(4)
    unit = np.repeat(np.arange(8), 6)
    clock = rng.uniform(0, 10, unit.size)
    response = 1 + rng.normal(size=8)[unit] + (0.5 + 0.2 * rng.normal(size=8)[unit]) * clock
    response = response + 0.3 * rng.normal(size=unit.size)
    same = fit_degradation(response, clock, unit=unit, method="ML")
    fit, _ = fit_censored(response, clock, unit=unit, side=np.zeros(48, dtype=int), rng=rng)
    assert fit.log_likelihood == pytest.approx(same.log_likelihood, abs=1e-6)
    assert fit.coefficients == pytest.approx(same.coefficients, rel=1e-4)
    assert fit.unit_covariance == pytest.approx(same.unit_covariance, rel=1e-2, abs=1e-3)
    assert fit.standard_errors == pytest.approx(same.standard_errors, rel=1e-2)
