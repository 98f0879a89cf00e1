"""Coming riding of each unit, week by week, drawn from whole weeks that were ridden.

Each week is one of the unit's own, or one of its site's, or one that this simulation drew before: the urn of
Blackwell & MacQueen (1973, Ann. Stat. 1, 353-355). Without a season the expected rate is the credibility rate of
riding_rates, with the site's weeks at the weight of `borrowed_weeks`, and what was drawn before carries the doubt
about the rate: the Bayesian bootstrap (Rubin 1981, Ann. Stat. 9, 130-134). With a season weeks count by their
nearness on the site's seasonal curve, and their hours are multiplied by what is left of the difference. Where there
is no week in the fleet, riding days are a compound Poisson process with the rate and the variance of riding_rates.

Random numbers are a hash of unit, simulation and day (splitmix64: Steele, Lea & Flood 2014, OOPSLA, 453-472), so that
a unit has the same ones in whatever company, and fewer hours left never give a later day.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.deciding.riding_history import RidingHistory
from draincurve.pipeline.fitting import compiled_loop
from draincurve.schemas.array_types import Floats, Integers

SIMULATIONS = 200
MOST_WEEKS = 104
"""Weeks that are simulated; later riding is at the unit's rate."""

KERNEL_SD = 0.4
"""Weeks count with a Gaussian weight of this sd in the log seasonal curve of the site (our choice, by simulation)."""

MOST_RATIO = 1.5
"""Hours of a drawn week are multiplied by exp(1.5) = 4.5 at most, for the season."""

MOST_TRIES = 50
MOST_RIDING_DAYS = 30.0
"""With more riding days than this expected in one day, a day has its mean."""

_U64 = np.uint64


@compiled_loop
def day_points(
    riding: RidingHistory, hours_left: Floats, begin: Integers, twice_ranks: Integers, simulations: int
) -> Integers:
    """Points of the day on which the hours left are exceeded, by its mid-distribution function, (U, points) [days].

    hours_left (U,) [h], over 0; begin (U,) : first day of riding, in days from as_of; twice_ranks : 2 p times
    simulations for each p. The point is the first day m with P(day < m) + P(day <= m) >= 2 p.
    """
    units = hours_left.size
    quantiles = np.empty((units, twice_ranks.size), dtype=np.int64)
    for index in prange(units):
        unit = int(np.int64(index))  # prange's own is unsigned, for which _ride would be compiled once more
        days = np.empty(simulations)
        cumulative_weights = np.empty((riding.ahead.shape[2], riding.end[unit] - riding.start[unit] + 1))
        rows, scales, hours = np.empty(MOST_WEEKS, dtype=np.int64), np.empty(MOST_WEEKS), np.empty(7)
        first_week = begin[unit] // 7
        for curve in range(riding.ahead.shape[1]):
            cumulative_weights[:, 0] = -1.0  # not computed yet
            for draw in range(curve, simulations, riding.ahead.shape[1]):
                left, day, week = hours_left[unit], -1.0, first_week
                while day < 0 and week < first_week + MOST_WEEKS:
                    _ride(riding, unit, draw, week, first_week, cumulative_weights, rows, scales, hours)
                    for weekday in range(7):
                        if 7 * week + weekday >= begin[unit]:
                            left -= hours[weekday]
                            if left < -1e-6:
                                day = 7.0 * week + weekday
                                break
                    week += 1
                if day < 0:
                    day = 7.0 * week + np.floor(max(left, 0.0) / riding.rate[unit])
                days[draw] = day
        days.sort()
        for point in range(twice_ranks.size):
            quantiles[unit, point] = _mid_rank(days, twice_ranks[point])
    return quantiles


@compiled_loop
def ridden_weeks(riding: RidingHistory, begin: Integers, weeks: int, simulations: int) -> Floats:
    """Hours of each unit in the weeks from as_of on, from the day `begin` on, (simulations, U, weeks) [h]."""
    units = begin.size
    ridden = np.zeros((simulations, units, weeks))
    for index in prange(units):
        unit = int(np.int64(index))
        cumulative_weights = np.empty((riding.ahead.shape[2], riding.end[unit] - riding.start[unit] + 1))
        rows, scales, hours = np.empty(weeks, dtype=np.int64), np.empty(weeks), np.empty(7)
        first_week = begin[unit] // 7
        for curve in range(riding.ahead.shape[1]):
            cumulative_weights[:, 0] = -1.0
            for draw in range(curve, simulations, riding.ahead.shape[1]):
                for week in range(first_week, weeks):
                    _ride(riding, unit, draw, week, first_week, cumulative_weights, rows, scales, hours)
                    for weekday in range(7):
                        if 7 * week + weekday >= begin[unit]:
                            ridden[draw, unit, week] += hours[weekday]
    return ridden


@njit(cache=True)
def _mid_rank(ascending: Floats, rank: int) -> int:
    """The rank-th smallest among the days and each of them plus 1, counted from 1."""
    i = j = 0
    value = 0.0
    for _ in range(rank):
        if i < ascending.size and ascending[i] <= ascending[j] + 1.0:
            value = ascending[i]
            i += 1
        else:
            value = ascending[j] + 1.0
            j += 1
    return int(value)


@njit(cache=True)
def _ride(
    riding: RidingHistory,
    unit: int,
    draw: int,
    week: int,
    first_week: int,
    cumulative_weights: Floats,
    rows: Integers,
    scales: Floats,
    hours: Floats,
) -> None:
    """Hours of the 7 days of a week, into `hours`; the row and scale that were drawn, into `rows` and `scales`."""
    factor = 1.0
    if riding.log_rate_sd[unit] > 0:
        sd = riding.log_rate_sd[unit]
        factor = math.exp(sd * _normal(riding.key[unit], draw) - 0.5 * sd * sd)
    if riding.end[unit] == riding.start[unit] and riding.pool_end[unit] == riding.pool_start[unit]:
        _compound_poisson_week(riding, unit, draw, week, factor, hours)
        return
    site, curve = riding.site[unit], draw % riding.ahead.shape[1]
    seen, ahead = riding.seen[site, curve], riding.ahead[site, curve, week % riding.ahead.shape[2]]
    drawn = week - first_week
    row, scale = _drawn_week(riding, unit, draw, week, drawn, cumulative_weights, rows, scales)
    if row < 0:
        row, scale = _borrowed_week(riding, unit, draw, week), factor * riding.borrowed_scale[unit]
    rows[drawn], scales[drawn] = row, scale
    ratio = math.exp(min(max(ahead - seen[riding.age[row]], -MOST_RATIO), MOST_RATIO))
    for weekday in range(7):
        hours[weekday] = scale * ratio * riding.hours[row, weekday]


@njit(cache=True)
def _drawn_week(
    riding: RidingHistory,
    unit: int,
    draw: int,
    week: int,
    drawn: int,
    cumulative_weights: Floats,
    rows: Integers,
    scales: Floats,
) -> tuple[int, float]:
    """Row and scale of a week of the unit, or of one drawn before; row -1 where the week is to be borrowed.

    cumulative_weights (WEEKS_OF_YEAR, own weeks + 1) : by week ahead; computed where the first is negative
    """
    start, count = riding.start[unit], riding.end[unit] - riding.start[unit]
    curve, week_of_year = draw % riding.ahead.shape[1], week % riding.ahead.shape[2]
    if cumulative_weights[week_of_year, 0] < 0:
        cumulative_weights[week_of_year, 0] = 0.0
        for i in range(count):
            cumulative_weights[week_of_year, i + 1] = cumulative_weights[week_of_year, i] + _nearness(
                riding, riding.site[unit], curve, week_of_year, riding.age[start + i]
            )
    borrowed = riding.borrowed_weeks[unit] if riding.pool_end[unit] > riding.pool_start[unit] else 0.0
    if count == 0:
        borrowed = max(borrowed, 1.0)
    pick = _uniform(riding.key[unit], draw, week, 0) * (borrowed + cumulative_weights[week_of_year, count] + drawn)
    if pick < drawn:
        return rows[int(pick)], scales[int(pick)]
    if pick < drawn + cumulative_weights[week_of_year, count]:
        return start + min(
            np.searchsorted(cumulative_weights[week_of_year, 1:], pick - drawn, side="right"), count - 1
        ), 1.0
    return -1, 0.0


@njit(cache=True)
def _borrowed_week(riding: RidingHistory, unit: int, draw: int, week: int) -> int:
    """Row of a week of the site, with a probability in proportion to its nearness."""
    first, count = riding.pool_start[unit], riding.pool_end[unit] - riding.pool_start[unit]
    curve, week_of_year = draw % riding.ahead.shape[1], week % riding.ahead.shape[2]
    row: int = first
    for attempt in range(MOST_TRIES):
        row = first + int(_uniform(riding.key[unit], draw, week, 2 * attempt + 1) * count)
        near = _nearness(riding, riding.site[unit], curve, week_of_year, riding.age[row])
        if near >= 1.0 or _uniform(riding.key[unit], draw, week, 2 * attempt + 2) < near:
            break
    return row


@njit(cache=True)
def _nearness(riding: RidingHistory, site: int, curve: int, week_of_year: int, age: int) -> float:
    """Weight of a week of this age for a week ahead; ahead counts as the nearest level that the log has seen."""
    if not riding.seasonal[site]:
        return 1.0
    ahead = min(max(riding.ahead[site, curve, week_of_year], riding.lowest[site, curve]), riding.highest[site, curve])
    return math.exp(-0.5 * ((ahead - riding.seen[site, curve, age]) / KERNEL_SD) ** 2)


@njit(cache=True)
def _compound_poisson_week(
    riding: RidingHistory, unit: int, draw: int, week: int, factor: float, hours: Floats
) -> None:
    """A week of riding days by a Poisson process at the unit's rate.

    Hours of a riding day are uniform on 0 to 1.5 `ride_day_hours`, whose dispersion is `ride_day_hours`.
    """
    key, rate, ride_day_hours = riding.key[unit], riding.rate[unit] * factor, riding.ride_day_hours[unit]
    for weekday in range(7):
        day = 7 * week + weekday
        if rate <= 0 or rate > MOST_RIDING_DAYS * 0.75 * ride_day_hours:
            hours[weekday] = rate
            continue
        expected = rate / (0.75 * ride_day_hours)
        reached, below, number = _uniform(key, draw, day, 0), math.exp(-expected), 0
        term = below
        while reached > below and number < 10 * MOST_RIDING_DAYS:
            number += 1
            term *= expected / number
            below += term
        hours[weekday] = 0.0
        for ridden in range(number):
            hours[weekday] += 1.5 * ride_day_hours * _uniform(key, draw, day, ridden + 1)


@njit(cache=True)
def _normal(key: np.uint64, draw: int) -> float:
    """Standard normal number of a simulation, by Box & Muller."""
    first, second = _uniform(key, draw, -1, 0), _uniform(key, draw, -1, 1)
    return math.sqrt(-2.0 * math.log(1.0 - first)) * math.cos(2 * math.pi * second)


@njit(cache=True)
def _uniform(key: np.uint64, draw: int, day: int, number: int) -> float:
    """Uniform on [0, 1), a hash of its arguments."""
    state = _U64(key) + _U64(draw) * _U64(0x9E3779B97F4A7C15)
    state = _mixed(state + _U64(day + 1) * _U64(0xD1B54A32D192ED03))
    state = _mixed(state + _U64(number) * _U64(0x8CB92BA72F3D8DD7) + _U64(0x9E3779B97F4A7C15))
    return (state >> _U64(11)) * (1.0 / 9007199254740992.0)


@njit(cache=True)
def _mixed(state: np.uint64) -> np.uint64:
    """The finishing step of splitmix64."""
    state = (state ^ (state >> _U64(30))) * _U64(0xBF58476D1CE4E5B9)
    state = (state ^ (state >> _U64(27))) * _U64(0x94D049BB133111EB)
    return state ^ (state >> _U64(31))
