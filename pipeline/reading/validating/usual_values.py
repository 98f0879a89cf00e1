"""What is usual for each fill of a unit, whatever a suspicious value or several of them may be."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from draincurve.schemas.array_types import Booleans, Floats, Indices

FAR_OVER, FAR_UNDER = 2.5, 0.4
"""A fill beyond these multiples of the usual one may hide a service left out, or be a slip of the pen."""
ALWAYS_OVER, ALWAYS_UNDER = 3.3, 0.25
"""A fill beyond these multiples is asked about however much fills differ, or a slip by ten could be usual, too."""
FAR_OUT = 3.0
"""Standard deviations of log hours within which a fill beyond FAR_OVER or FAR_UNDER is ordinary riding."""
FEWEST_FOR_SD = 12
"""With fewer fills in the log their standard deviation is not known."""
FLEET_FILLS = 8.0
"""Fills of its own after which a unit's standard deviation counts as much as the fleet's."""
MAD_TO_SD = 1.4826
"""Standard deviation of a normal law per median absolute deviation."""
MINUTES, DAY = 60.0, 24.0
"""Minutes in an hour; hours in a day, of which a spreadsheet stores a part: 0.52 for 12:30."""
FEWEST_OTHERS = 2
"""With fewer other fills than this a unit has no usual fill of its own, and the fleet's counts too."""


class UsualHours(NamedTuple):
    """What each fill is compared with.

    compared : (n,) [h], NaN where nothing is usual; own : (n,), whether that is the unit's own
    foreign : (n,), whether most fills of its unit are in minutes or parts of a day, by what is usual in the log
    fleet : the fleet's median fill [h], NaN for fewer than two units
    """

    compared: Floats
    own: Booleans
    foreign: Booleans
    fleet: float


def usual_hours(hours: Floats, units: Indices, *, asked_high: float = np.inf) -> UsualHours:
    """What is usual for each fill: the median of the unit's other fills.

    hours : (n,) [h]; units : (n,), number of each fill's unit from 0; asked_high : a single unit's fills over it [h]
    do not say what is usual.  Where a third or more of a unit's fills are near the fleet's usual, only these count:
    the others may be in another unit of time. A unit with fewer than two others has the fleet's usual, unless its one
    other fill is like it or is all that there is; so has one of which most fills are in another unit of time.
    """
    if not hours.size:
        return UsualHours(np.empty(0), np.empty(0, dtype=bool), np.empty(0, dtype=bool), float("nan"))
    order = _by_unit(hours, units)
    ordered, unit = hours[order], units[order]
    counts = np.bincount(unit)
    several = counts.nonzero()[0].size > 1 and hours.size > FEWEST_OTHERS
    fleet = float(np.quantile(hours, 0.5, method="lower")) if several else float("nan")
    likely = hours[hours <= asked_high] if not several else hours[:0]
    middle = float(np.quantile(likely, 0.5, method="lower")) if likely.size >= FEWEST_OTHERS else fleet
    near = _is_near(ordered, middle)
    near_count = np.bincount(unit, near, minlength=counts.size)
    mixed = (near_count >= np.maximum(2, counts / 3.0))[unit]
    in_other_time = _is_near(ordered / MINUTES, middle) | _is_near(ordered * DAY, middle)
    foreign = (np.bincount(unit, in_other_time, minlength=counts.size) > counts / 2.0)[unit]
    usual, others = _median_of_others(ordered, unit, np.where(mixed, near, True))
    enough_others = others >= FEWEST_OTHERS
    near_usual = (others == 1) & _is_near(ordered, usual)
    has_own = (enough_others | near_usual) & (mixed | ~foreign)
    compared = np.empty(hours.size)
    is_own, is_foreign = np.empty(hours.size, dtype=bool), np.empty(hours.size, dtype=bool)
    compared[order] = np.where(has_own | (not several), usual, fleet)
    is_own[order], is_foreign[order] = has_own, foreign
    return UsualHours(compared, is_own, is_foreign, fleet)


def asked_multiples(hours: Floats, units: Indices, *, compared: Floats) -> tuple[Floats, Floats]:
    """Multiples of its usual over and under which each fill is asked about; both (n,).

    hours, units : as of `usual_hours`; compared : (n,) [h], its result. FAR_OVER and FAR_UNDER, or farther out where
    log hours vary so much that these would be ordinary. The standard deviation is that of the unit and the fleet
    together, from median absolute deviations, which a few slips leave as they are.
    """
    over, under = np.full(hours.size, FAR_OVER), np.full(hours.size, FAR_UNDER)
    known = np.isfinite(compared)
    if known.sum() < FEWEST_FOR_SD:
        return over, under
    apart = np.abs(np.log(hours[known] / compared[known]))
    unit = units[known]
    order = _by_unit(apart, unit)
    count = np.bincount(unit)
    begin = np.cumsum(count) - count
    ordered = apart[order]
    middle = np.minimum(begin + count // 2, ordered.size - 1)
    of_unit, of_fleet = ordered[middle], np.median(apart)
    pooled = (count * of_unit**2 + FLEET_FILLS * of_fleet**2) / (count + FLEET_FILLS)
    farthest = np.exp(FAR_OUT * MAD_TO_SD * np.sqrt(pooled))[unit]
    over[known] = np.clip(farthest, FAR_OVER, ALWAYS_OVER)
    under[known] = np.clip(1.0 / farthest, ALWAYS_UNDER, FAR_UNDER)
    return over, under


def median_of_others(values: Floats, units: Indices, *, counted: Booleans) -> Floats:
    """For each value the median of its unit's other counted values, NaN without any; all (n,).

    values : over 0; units : number of each value's unit from 0
    """
    if not counted.any():
        return np.full(values.size, np.nan)
    order = _by_unit(values, units)
    medians = np.empty(values.size)
    medians[order], _ = _median_of_others(values[order], units[order], counted[order])
    return medians


def _is_near(hours: Floats, usual: Floats | float) -> Booleans:
    return (hours >= FAR_UNDER * usual) & (hours <= FAR_OVER * usual)


def _by_unit(values: Floats, units: Indices) -> Indices:
    """The order by unit and, within each, by value."""
    return np.argsort(units + values / (values.max() + 1.0))


def _median_of_others(ordered: Floats, unit: Indices, counted: Booleans) -> tuple[Floats, Indices]:
    """For each fill the median of its unit's other counted fills, NaN without any, and how many these are.

    ordered : hours, ascending within each unit; unit : ascending.
    """
    kept = ordered[counted]
    size = np.bincount(unit, counted, minlength=int(unit[-1]) + 1).astype(np.int64)
    begin = (np.cumsum(size) - size)[unit]
    rank = np.cumsum(counted) - 1 - begin
    others = size[unit] - counted
    total = np.zeros(ordered.size)
    for half in (0, 1):
        position = np.maximum((others - 1 + half) // 2, 0)
        position += counted & (position >= rank)
        total += kept[np.minimum(begin + position, kept.size - 1)]
    return np.where(others > 0, total / 2.0, np.nan), others
