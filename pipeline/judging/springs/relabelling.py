"""The permutation check over units: the two springs' names exchanged at random in whole units.

Units are what a shop assigns springs to, not drains, so names are exchanged throughout a unit's history or not at
all, with chance one half each. Exchanging the names of two springs turns round the sign of the unit's part of the
efficient score, which is all the test needs: one merged fit serves every relabelling (Hemerik, Goeman & Finos 2020,
J. R. Stat. Soc. B 82, 841-864). It holds whether or not units ran both springs, and where drains of one unit are
more alike than the model believes. Where one unit makes all of a difference the check turns on the others, and small
p-values come by chance only.
"""

from __future__ import annotations

import numpy as np

from draincurve.schemas.array_types import Floats

RELABELLINGS = 2000
FEWEST_UNITS = 6
"""With fewer units there are too few relabellings for a p-value of 5 %: 5 units give at least 6.3 %."""

_ENUMERATED_UNITS = 11
_NUMBERS_A_PIECE = 4_000_000


def relabelling_p_value(unit_scores: Floats, rng: np.random.Generator) -> float:
    """Two-sided p-value of the sum of the units' scores, (U,), under exchange of names in whole units.

    All relabellings where there are at most 2,048, else 2,000 random ones beside the log's own.
    """
    observed = abs(float(np.sum(unit_scores)))
    close = 1e-9 * float(np.sum(np.abs(unit_scores)))
    units = unit_scores.size
    if units <= _ENUMERATED_UNITS:
        codes = np.arange(2**units)[:, None] >> np.arange(units) & 1
        return float(np.mean(np.abs((1.0 - 2.0 * codes) @ unit_scores) >= observed - close))
    reached = 1
    piece = max(1, _NUMBERS_A_PIECE // units)
    for begin in range(0, RELABELLINGS, piece):
        count = min(piece, RELABELLINGS - begin)
        signs = rng.integers(0, 2, size=(count, units), dtype=np.int8)
        sums = (1.0 - 2.0 * signs) @ unit_scores
        reached += int(np.sum(np.abs(sums) >= observed - close))
    return reached / (RELABELLINGS + 1)
