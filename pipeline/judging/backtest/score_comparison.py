"""Two ways of predicting the same drains: the mean difference of their scores, and whether it may be chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.judging.backtest.binomial_intervals import LEVEL
from draincurve.schemas.array_types import Floats

FEWEST_UNITS = 5
"""With fewer units, resampling them says little about other units, so no interval is given."""

_RESAMPLES = 2000


@dataclass(frozen=True, slots=True)
class RivalScore:
    """Another way of predicting, on the same drains.

    name : words for it; score : its mean ranked probability score; difference : the model's mean score less this
    one's, under 0 where the model is closer; low, high : 95 % interval of the difference by resampling whole units,
    None with too few units to tell.
    """

    name: str
    score: float
    difference: float
    low: float | None
    high: float | None

    @property
    def beaten(self) -> bool:
        """Whether the model is closer by more than chance."""
        return self.high is not None and self.high < 0.0

    @property
    def wins(self) -> bool:
        """Whether it is closer than the model by more than chance."""
        return self.low is not None and self.low > 0.0


def compared(
    name: str, ours: Floats, *, theirs: Floats, units: NDArray[np.object_], rng: np.random.Generator
) -> RivalScore:
    """A rival beside the model.

    ours, theirs : (n,) scores of the same drains; units : (n,) unit keys. Drains of one unit share its luck, so
    whole units are resampled (cluster bootstrap: Field & Welsh 2007, J. R. Stat. Soc. B 69, 369-390).
    """
    difference = ours - theirs
    low = high = None
    _, place = np.unique(units.astype(str), return_inverse=True)
    count = int(place.max()) + 1
    if count >= FEWEST_UNITS:
        sums, drains = np.bincount(place, weights=difference), np.bincount(place)
        times = rng.multinomial(count, np.full(count, 1.0 / count), size=_RESAMPLES)
        means = (times @ sums) / (times @ drains)
        low, high = (float(point) for point in np.quantile(means, ((1 - LEVEL) / 2, (1 + LEVEL) / 2)))
    return RivalScore(name, float(theirs.mean()), float(difference.mean()), low, high)
