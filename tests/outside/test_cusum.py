"""Cumulative sums against two textbook examples.

NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3: the 20 observations as they stand in public
documentation that cites it; target 325, k = 0.3175 and h = 4.1959 are from memory; the sums were computed from them.
Montgomery, Introduction to Statistical Quality Control, tables 9.1 and 9.2 (target 10, k = 0.5, h = 5): data as found
in public documentation of a numerical library; the printed upper sums are from memory and agree with the computed.
"""

from itertools import accumulate

import numpy as np
import pytest

from draincurve.pipeline.judging.changepoints.cusum import next_sum

NIST = [324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6,
        324.625, 325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35]  # fmt: skip
NIST_UPPER = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
NIST_LOWER = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0]

MONTGOMERY = [9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08,
              9.37, 10.62, 10.31, 8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31,
              10.52]  # fmt: skip
MONTGOMERY_UPPER = [0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1.0, 0, 0, 0, 0.97, 0.98, 0, 0,
                    0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28, 5.3]  # fmt: skip
MONTGOMERY_LOWER = [0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0,
                    0.13, 0, 0, 0.98, 0, 0, 0.17, 0, 0, 0, 0, 0, 0, 0, 0]  # fmt: skip


@pytest.mark.parametrize(
    ("values", "target", "allowance", "threshold", "upper", "lower", "first_signal"),
    [
        (NIST, 325.0, 0.3175, 4.1959, NIST_UPPER, NIST_LOWER, 14),
        (MONTGOMERY, 10.0, 0.5, 5.0, MONTGOMERY_UPPER, MONTGOMERY_LOWER, 29),
    ],
)
def test_textbook_sums(values, target, allowance, threshold, upper, lower, first_signal):
    deviations = np.array(values) - target
    found, under = (
        list(accumulate(side - allowance, next_sum, initial=0.0))[1:] for side in (deviations, -deviations)
    )
    np.testing.assert_allclose(found, upper, atol=1e-9)
    np.testing.assert_allclose(under, lower, atol=1e-9)
    assert 1 + int(np.argmax(np.array(found) > threshold)) == first_signal
