"""Two predictors of the same drains: the mean difference of their scores, with its interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.judging.backtest.binomial_intervals import LEVEL
from draincurve.schemas.array_types import Floats

FEWEST_UNITS = 5
"""With fewer units, resampling is not informative about other units, so no interval is given."""

_RESAMPLES = 2000


@dataclass(frozen=True, slots=True)
class RivalScore:
    """Another predictor, on the same drains.

    name : in words; score : its mean ranked probability score; difference : the model's mean score minus this one's,
    below 0 where the model is closer; low, high : 95 % interval of the difference by resampling whole units, None
    with fewer than FEWEST_UNITS units.
    """

    name: str
    score: float
    difference: float
    low: float | None
    high: float | None

    @property
    def beaten(self) -> bool:
        """Whether the model is significantly closer."""
        return self.high is not None and self.high < 0.0

    @property
    def wins(self) -> bool:
        """Whether this predictor is significantly closer than the model."""
        return self.low is not None and self.low > 0.0


def compared(
    name: str, ours: Floats, *, theirs: Floats, units: NDArray[np.object_], rng: np.random.Generator
) -> RivalScore:
    """Comparison of a rival with the model.

    ours, theirs : (n,) scores of the same drains; units : (n,) unit keys. Scores of one unit's drains are correlated,
    so whole units are resampled (cluster bootstrap: Field & Welsh 2007, J. R. Stat. Soc. B 69, 369-390).
    """
    difference = ours - theirs
    low = high = None
    _, unit_index = np.unique(units.astype(str), return_inverse=True)
    count = int(unit_index.max()) + 1
    if count >= FEWEST_UNITS:
        sums, drains = np.bincount(unit_index, weights=difference), np.bincount(unit_index)
        times = rng.multinomial(count, np.full(count, 1.0 / count), size=_RESAMPLES)
        means = (times @ sums) / (times @ drains)
        low, high = (float(point) for point in np.quantile(means, ((1 - LEVEL) / 2, (1 + LEVEL) / 2)))
    return RivalScore(name, float(theirs.mean()), float(difference.mean()), low, high)
