"""One-sided cumulative sums: the evidence of a run of drains for a change against none.

S_i = max(0, S_{i-1} + step_i) (Page 1954, Biometrika 41, 100-115). An excursion is a run of drains with S above zero.
It gives one alarm if its top exceeds the threshold, and the alarm lasts until S is back at zero.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from draincurve.schemas.array_types import Booleans, Floats


@njit(cache=True, inline="always")
def next_sum(before: float, step: float) -> float:
    """S after one more step."""
    return max(0.0, before + step)


@njit(cache=True)
def running_tops(sums: Floats, restart: Booleans) -> Floats:
    """Highest S of the excursion up to each drain, (R, n); zero where S is zero."""
    tops = np.empty(sums.shape)
    for r in range(sums.shape[0]):
        top = 0.0
        for i in range(sums.shape[1]):
            if restart[i]:
                top = 0.0
            top = max(top, sums[r, i]) if sums[r, i] > 0.0 else 0.0
            tops[r, i] = top
    return tops


def excursion_tops(tops: Floats, restart: Booleans) -> Floats:
    """Tops of all excursions, (E,), from running tops (R, n)."""
    over = np.append(restart[1:], True) | np.column_stack((tops[:, 1:] == 0.0, np.ones(len(tops), dtype=bool)))
    return np.asarray(tops[over & (tops > 0.0)])
