"""The threshold at which a cumulative sum raises an alarm, from simulated logs in which no unit changes.

Ratings are few levels and every unit has its own short history, so no table of thresholds applies. The logs are
simulated from the fitted model on the same drains, with its correlation of unit effects and association of ratings.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.judging.changepoints.change_sums import LARGEST_STEP
from draincurve.pipeline.judging.changepoints.cusum import excursion_tops, running_tops
from draincurve.pipeline.judging.changepoints.monitored_drains import MonitoredDrains
from draincurve.schemas.array_types import Floats, Integers

LOWEST_THRESHOLD = LARGEST_STEP
"""Largest sum after a single drain, which never raises an alarm."""

BY_CHANCE_IN_A_FLEET = 1.0
"""Expected number of units with a current false alarm. In fleets of more than fifty it is `LEAST_SHARE_BY_CHANCE` of
the units instead."""

LEAST_SHARE_BY_CHANCE = 0.02

_SIMULATED_DRAINS = 60_000
_MOST_DRAINS_A_LOG = 20_000


@dataclass(frozen=True, slots=True)
class AlarmThreshold:
    """A threshold and its false alarms in the simulation.

    drains_per_false_alarm : monitored drains per alarm, infinite if there was none; standing_by_chance : share of
    monitored units with a false alarm at their last drain.
    """

    value: float
    drains_per_false_alarm: float
    standing_by_chance: float


def alarm_threshold(
    watched: MonitoredDrains, drains_per_false_alarm: int, *, rng: np.random.Generator
) -> AlarmThreshold | None:
    """The lowest threshold with few false alarms; None where no drain is monitored.

    At most one alarm in `drains_per_false_alarm` monitored drains. In a large fleet fewer: the number of current
    false alarms is bounded, or a list of turned units would hold mostly false ones. rng : seeded generator of the
    simulated logs.
    """
    some = watched.of_units(_some_units(watched.starts))
    monitored = int(some.monitored.sum())
    if monitored == 0:
        return None
    logs = -(-_SIMULATED_DRAINS // monitored)
    low, high = some.simulated_ratings(logs, rng)
    tops = running_tops(some.sums(low, high)[0], some.restart)
    peaks = np.sort(excursion_tops(tops, some.restart))[::-1]
    allowed = logs * monitored // drains_per_false_alarm
    last = watched.starts[1:] - 1
    share = max(LEAST_SHARE_BY_CHANCE, BY_CHANCE_IN_A_FLEET / int(watched.monitored[last].sum()))
    ends = np.sort(tops[:, some.starts[1:][some.monitored[some.starts[1:] - 1]] - 1].ravel())[::-1]
    value = max(LOWEST_THRESHOLD, _over(peaks, allowed), _over(ends, int(share * ends.size)))
    alarms = int(np.sum(peaks > value))
    return AlarmThreshold(
        value,
        logs * monitored / alarms if alarms else float("inf"),
        float(np.mean(ends > value)),
    )


def _over(descending: Floats, allowed: int) -> float:
    """The lowest value exceeded by at most `allowed` of these numbers; 0 where there are no more than that."""
    return float(descending[allowed]) if allowed < descending.size else 0.0


def _some_units(starts: Integers) -> Integers:
    """Units to simulate: all, or evenly spaced ones of a large log."""
    units = starts.size - 1
    wanted = max(1, round(units * min(1.0, _MOST_DRAINS_A_LOG / int(starts[-1]))))
    return np.unique(np.linspace(0, units - 1, wanted).astype(np.int64))
