"""Simulated riding of a fleet over a history and the days that follow it, by a known pattern.

Nothing here knows how the program predicts riding: each pattern states how days are ridden, and the coming days are
the truth that a due date is scored against.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.schemas.array_types import Floats, Integers

PATTERNS = {
    "weekdays": "any weekday, most on Saturday and Sunday",
    "no usage log": "as weekdays, known from drains alone",
    "camps": "two to five days in a row, some two weeks apart",
    "season": "weekdays, and a sine over the year (0.15 to 1.85 of the mean)",
    "weekends": "Saturday and Sunday only",
    "open and closed season": "weekdays for half of the year, next to nothing in the other half",
}
COMING_DAYS = 700
UNITS_A_SITE = 20


@dataclass(frozen=True)
class Ridden:
    """A fleet's riding and the truth about it.

    hours (U, days) [h] of the history, whose last day is as_of; left (U,) [h]; crossing (U,) : days from as_of to the
    ride that exceeds the hours left; limits (U,) [h] : fills of the history ended there.
    """

    pattern: str
    as_of: date
    hours: Floats
    left: Floats
    crossing: Integers
    limits: Floats

    def state(self) -> pl.DataFrame:
        """One row a unit, last drained ten days ago."""
        units = range(self.left.size)
        return pl.DataFrame(
            {
                "unit_key": [_name(unit) for unit in units],
                "site": [f"site {unit // UNITS_A_SITE}" for unit in units],
                "machine": [None] * self.left.size,
                "last_drained_on": [self.as_of - timedelta(days=10)] * self.left.size,
            }
        )

    def usage(self) -> pl.DataFrame | None:
        """Rows of the usage log; None where the shop keeps none."""
        if self.pattern == "no usage log":
            return None
        unit, day = np.nonzero(self.hours > 0)
        first = self.as_of - timedelta(days=self.hours.shape[1] - 1)
        return pl.DataFrame(
            {
                "unit_key": [_name(index) for index in unit],
                "date": [first + timedelta(days=int(number)) for number in day],
                "hours": self.hours[unit, day],
            }
        )

    def drains(self) -> pl.DataFrame:
        """Drains of the history: a fill ends on the day that takes it past its limit."""
        rows: list[tuple[str, date, float, str]] = []
        days = self.hours.shape[1]
        for unit, limit in enumerate(self.limits):
            filled = 0.0
            for day in range(days):
                filled += self.hours[unit, day]
                if filled >= limit:
                    rows.append((_name(unit), self.as_of + timedelta(days=day - days + 1), filled, "oil"))
                    filled = 0.0
        names = {"unit_key": pl.String, "drained_on": pl.Date, "oil_hours": pl.Float64, "service_kind": pl.String}
        return pl.DataFrame(rows, schema=names, orient="row")


def ridden(pattern: str, history: int, *, units: int, rng: np.random.Generator) -> Ridden:
    """A fleet of one pattern with so many days of history, as of a random day of the year."""
    as_of = date(2026, 1, 5) + timedelta(days=int(rng.integers(0, 365)))
    first = as_of - timedelta(days=history - 1)
    days = np.arange(history + COMING_DAYS)
    pace = np.exp(0.35 * rng.standard_normal(units))[:, None]
    hours = _hours(pattern, (days + first.weekday()) % 7, days + first.timetuple().tm_yday, pace=pace, rng=rng)
    left = rng.uniform(2, 14, units)
    coming = np.cumsum(hours[:, history:], axis=1)
    crossing = np.where(coming[:, -1] > left, (coming > left[:, None]).argmax(axis=1), COMING_DAYS) + 1
    return Ridden(pattern, as_of, hours[:, :history], left, crossing, rng.uniform(11, 23, units))


def _hours(pattern: str, weekday: Integers, year_day: Integers, *, pace: Floats, rng: np.random.Generator) -> Floats:
    """Hours of each unit and day, rounded as they are typed, (U, days) [h]."""
    shape = (pace.size, weekday.size)
    if pattern == "camps":
        return np.round(_camps(pace[:, 0], weekday.size, rng), 1)
    if pattern == "weekends":
        return np.round(((weekday >= 5) & (rng.random(shape) < 0.75)) * _rides(3.2, shape, rng) * pace, 1)
    if pattern in ("weekdays", "no usage log"):
        likely = np.array([0.25, 0.3, 0.25, 0.4, 0.35, 0.75, 0.6])[weekday]
        return np.round((rng.random(shape) < likely) * _rides(2.2, shape, rng) * pace, 1)
    wave = np.sin(2 * np.pi * (year_day - 110) / 365.25)
    course = 1 + 0.85 * wave if pattern == "season" else 1.6 / (1 + np.exp(-(wave + 0.2) / 0.15)) + 0.05
    likely = np.array([0.3, 0.3, 0.3, 0.4, 0.4, 0.8, 0.7])[weekday] * course * 0.8 * np.sqrt(pace)
    return np.round((rng.random(shape) < np.minimum(likely, 0.97)) * _rides(2.4, shape, rng) * np.sqrt(pace), 1)


def _rides(mean: float, shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    """Hours of a day's riding: gamma with a coefficient of variation of 0.37."""
    return mean * rng.gamma(7.3, 1 / 7.3, shape)


def _camps(pace: Floats, days: int, rng: np.random.Generator) -> Floats:
    hours = np.zeros((pace.size, days))
    for unit, own in enumerate(pace):
        day = int(rng.integers(-20, 4))
        while day < days:
            length = int(rng.integers(2, 6))
            span = slice(max(day, 0), max(day + length, 0))
            hours[unit, span] = 4.0 * np.sqrt(own) * rng.gamma(9, 1 / 9, hours[unit, span].size)
            day += length + 1 + round(rng.gamma(4, 3.5) / np.sqrt(own))
    return hours


def _name(unit: int) -> str:
    return f"U{unit:04}"
