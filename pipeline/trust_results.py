"""What was found about trusting a channel: turned units, raters, links, bounds; hand-over from judging to page."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.rater_results import RaterResult

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Dates = NDArray[np.datetime64]

CONFIDENCE = 0.95
"""Of the exact bounds, one-sided."""


@dataclass(frozen=True, slots=True)
class AlarmThreshold:
    """A threshold and what the simulation says of it.

    drains_per_false_alarm : monitored drains for one alarm, infinite if there was none; standing_by_chance : share of
    watched units whose alarm stands at their last drain although none changed.
    """

    value: float
    drains_per_false_alarm: float
    standing_by_chance: float


@dataclass(frozen=True, slots=True)
class TurnedUnits:
    """One channel's watch over its units; drains by unit and in order of time.

    unit_keys : U labels, of a large fleet those of the units that are drawn; starts : (U + 1,), slice bounds of these
    units; drained_on : (n,) dates; scores, sums : (n,), in
    standard deviations of a normal score; threshold : None where no unit has drains enough.
    verdicts : one row a unit: unit_key, turned (null: too few drains, or none since a rebuild), turned_since (date of
    the drain at which the rise began) and signalled_on (date at which the sum passed the threshold), both null unless
    turned, share_of_threshold (top of the rise that lasts at the last drain, over the threshold).
    """

    channel: str
    unit_keys: tuple[str, ...]
    starts: Integers
    drained_on: Dates
    scores: Floats
    sums: Floats
    threshold: AlarmThreshold | None
    verdicts: pl.DataFrame

    def path(self, unit_key: str) -> tuple[Dates, Floats]:
        """Dates and sums of one unit; raises ValueError for a unit without rated drains."""
        at = self.unit_keys.index(unit_key)
        span = slice(self.starts[at], self.starts[at + 1])
        return self.drained_on[span], self.sums[span]


@dataclass(frozen=True, slots=True)
class LinkScore:
    """One link: its score against the best (0 for the best, in log score over all scored units), and its answer.

    difference_error : standard error of the difference over units, 0 for the best; hours_at_risk : hours at the
    accepted risk [h] of a unit without history on the commonest spring and oil, at the posterior mode.
    """

    link: str
    hours_law: str
    difference: float
    difference_error: float
    hours_at_risk: float


@dataclass(frozen=True, slots=True)
class LinkChoice:
    """The links of one channel, best first.

    used : the link of the settings; units, scored, refitted : in the fit, scored, and scored by a refit;
    spring_type, oil_grade : what `hours_at_risk` is for; words : the finding in plain sentences.
    """

    channel: str
    used: str
    links: tuple[LinkScore, ...]
    units: int
    scored: int
    refitted: int
    spring_type: str
    oil_grade: str
    words: tuple[str, ...]

    @property
    def hours_ratio(self) -> float:
        """Longest over shortest hours at the accepted risk among the links: how much the answer hangs on the link."""
        hours = [item.hours_at_risk for item in self.links]
        return max(hours) / min(hours)


@dataclass(frozen=True, slots=True)
class CleanBounds:
    """Counts and one-sided upper bounds of one channel.

    drains, past : drains with a rating on one side of the limit, and those past it; units, units_past : units with
    such drains, and those with one or more past it; share_of_drains, share_of_units : upper bounds at `CONFIDENCE`.
    """

    channel: str
    limit: int
    drains: int
    past: int
    units: int
    units_past: int
    share_of_drains: float
    share_of_units: float

    @property
    def words(self) -> str:
        """The bounds in one sentence."""
        seen = f"{self.past or 'None'} of {self.drains} drains {'were' if self.past > 1 else 'was'}"
        return (
            f"{seen} past the limit: at {_percent(CONFIDENCE)} confidence that only bounds the share of such drains "
            f"at {_percent(self.share_of_drains)}, and at {_percent(self.share_of_units)} when the {self.drains} "
            f"are {self.units} {'unit' if self.units == 1 else 'units'}."
        )


@dataclass(frozen=True, slots=True)
class ChannelTrust:
    """One channel.

    turned, raters : None without a fit; links : a sentence where they were not compared; bounds : None where they say
    nothing.
    """

    channel: str
    turned: TurnedUnits | None
    raters: RaterResult | None
    links: LinkChoice | str
    bounds: CleanBounds | None


def _percent(share: float) -> str:
    """A share in percent, to two digits."""
    percent = 100.0 * share
    return f"{percent:.2g} %" if percent < 10.0 else f"{percent:.0f} %"
