"""Levels of the scale that a shop never uses, merged with a level that it does use.

Where a shop rates 1 and 4 only, the two gaps between their thresholds would come from the prior alone, and push the
limit away from the oil that was seen past it. With 2 and 3 merged into 1, a 1 only says that the oil was under the
limit, and what is left of the thresholds in between is the prior's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.schemas.array_types import Integers
from draincurve.schemas.channels import RATING_LEVELS


@dataclass(frozen=True)
class LevelGroups:
    """The groups of levels that the fit takes together, for each level of the scale 1 to K.

    lowest, highest : (K,), ends of the level's group; rated_as : (K,), the level that the shop gives all of it
    """

    lowest: Integers
    highest: Integers
    rated_as: Integers

    @property
    def merged(self) -> bool:
        """Whether any two levels are in one group."""
        return bool(np.any(self.lowest < self.highest))


def level_groups(low: Integers, high: Integers, *, limit: int) -> LevelGroups:
    """Groups of levels by the ratings of a log, (n,) each.

    A level at which no rating begins or ends joins the nearest seen one away from `limit`, or else the nearest on its
    side of it. Nothing is merged unless a level between two seen ones is unseen: a young or clean log has not reached
    the dirty end of the scale yet, and that is no sign of a shorter scale.
    """
    scale = np.arange(1, RATING_LEVELS + 1)
    counts = np.bincount(low, minlength=scale.size + 1) + np.bincount(high, minlength=scale.size + 1)
    seen, unseen = scale[counts[1:] > 0], scale[counts[1:] == 0]
    rated_as = scale.copy()
    if np.any((unseen > seen[0]) & (unseen < seen[-1])):
        for level in unseen:
            same_side = seen[(seen < limit) == (level < limit)]
            below, above = same_side[same_side < level][::-1], same_side[same_side > level]
            nearest = np.concatenate((below, above) if level < limit else (above, below))
            rated_as[level - 1] = nearest[0] if nearest.size else level
    first, last = np.searchsorted(rated_as, rated_as), np.searchsorted(rated_as, rated_as, side="right")
    return LevelGroups(first + 1, last, rated_as)
