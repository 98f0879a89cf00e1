"""Services, rebuilds and oil of the next weeks, by simulating what each unit will be ridden.

Bookings are ridden first, as planned; after the last of them riding is the same as that of due_dates, simulation by
simulation. A unit is serviced when its interval is used up, or before the event in which it would be, or when its
oil is too old; then its next interval begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl
from scipy.special import ndtri

from draincurve.pipeline.deciding.forecast_fleet import ForecastFleet, ForecastTables, forecast_fleet
from draincurve.pipeline.deciding.part_forecast import rebuilt_units
from draincurve.pipeline.deciding.simulated_riding import ridden_weeks
from draincurve.schemas.array_types import Floats
from draincurve.schemas.forecast_table import COLUMNS, OIL, REBUILDS, SERVICES, checked_forecast, empty_forecast
from draincurve.schemas.service_kinds import is_oil_change
from draincurve.schemas.settings import Settings

WEEKS = 8
LOW_HIGH = (0.1, 0.9)
FEWEST_DRAWS, MOST_DRAWS = 20, 2000
UNITS_TIMES_DRAWS = 400_000
POINTS_FROM_DRAWS = 200
"""With fewer draws, as in a large fleet, the total of many units is close to normal and its range is taken so."""

MID_WEEK = 3.5
"""Days since its service, at the end of the week, of a unit serviced on a day that is not known."""


@dataclass(frozen=True, slots=True)
class ForecastResult:
    """The forecast.

    table : as schemas.forecast has it; weeks : their number; units : in service;
    sentences : on the sources of the forecast, and on what is counted but not known.
    """

    table: pl.DataFrame
    weeks: int
    units: int
    sentences: tuple[str, ...]


def forecast(
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    tables: ForecastTables,
    settings: Settings,
    as_of: date,
    rng: np.random.Generator,
    weeks: int = WEEKS,
    *,
    parts: pl.DataFrame | None = None,
) -> ForecastResult:
    """Counts and litres for each of the next weeks, and for all of them, with their 80 % range.

    state : as `fleet_state` gives it; next_service : the table of that name; rng : seeded. Weeks begin on `as_of`.
    parts : the table of parts, from whose lives and wear rebuilds are forecast, None for the log's rate of rebuilds.
    """
    if not state.height or weeks < 1:
        return ForecastResult(empty_forecast(), weeks, state.height, ())
    fleet = forecast_fleet(state, next_service, tables, settings, as_of, weeks)
    draws = int(np.clip(UNITS_TIMES_DRAWS // state.height, FEWEST_DRAWS, MOST_DRAWS))
    services, litres = simulated_services(fleet, draws, weeks)
    oil_changes = (pl.col("drained_on") <= as_of) & is_oil_change()
    kinds = tables.drains.filter(oil_changes)["service_kind"]
    rebuilt = int((kinds == "rebuild").sum())
    draws_by_item: dict[tuple[str, str | None], Floats] = {(SERVICES, None): services}
    if parts is not None:
        draws_by_item[REBUILDS, None] = rebuilt_units(fleet, state, parts, as_of, draws, weeks)
    elif rebuilt:
        share = rng.beta(rebuilt + 0.5, kinds.len() - rebuilt + 0.5, draws)
        draws_by_item[REBUILDS, None] = rng.binomial(services.astype(np.int64), share[:, None]).astype(float)
    for index, grade in enumerate(fleet.grades):
        if litres[:, :, index].any():
            draws_by_item[OIL, grade] = litres[:, :, index]
    table = checked_forecast(_table(draws_by_item, as_of, weeks))
    return ForecastResult(table, weeks, state.height, _sentences(fleet, tables, parts, (rebuilt, kinds.len())))


def simulated_services(fleet: ForecastFleet, draws: int, weeks: int) -> tuple[Floats, Floats]:
    """Services of the fleet, (S, W), and litres by grade, (S, W, G)."""
    ridden = ridden_weeks(fleet.riding, fleet.begin, weeks, draws)
    interval = np.where(np.isfinite(fleet.interval) & (fleet.interval > 0), fleet.interval, np.inf)
    # A ride is not split: what is left is on average half a ride short of it, as in any renewal process.
    lost_at_end = np.minimum(
        0.5 * fleet.riding.ride_day_hours, 0.5 * np.where(np.isfinite(interval), interval, np.inf)
    )
    lost = np.isnan(fleet.hours) | (np.isnan(fleet.age) & np.isfinite(fleet.oil_days))
    due = lost | (fleet.hours >= interval) | (fleet.age >= fleet.oil_days) | (fleet.interval <= 0)
    hours = np.tile(np.where(due, 0.0, np.nan_to_num(fleet.hours)), (draws, 1))
    age = np.tile(np.where(due, 0.0, np.nan_to_num(fleet.age)), (draws, 1))
    by_grade = np.zeros((fleet.grade.size, len(fleet.grades)))
    by_grade[np.arange(fleet.grade.size), fleet.grade] = np.nan_to_num(fleet.fill_l)
    services, litres = np.zeros((draws, weeks)), np.zeros((draws, weeks, len(fleet.grades)))
    for week in range(weeks):
        booked = fleet.booked[:, week]
        before = (booked > 0) & (hours + booked > interval) & (hours > 0)
        hours = np.where(before, 0.0, hours) + booked + ridden[:, :, week]
        usable = interval - np.where(fleet.begin < 7 * (week + 1), lost_at_end, 0.0)
        full = np.floor(hours / usable)
        hours = hours - full * np.where(np.isfinite(usable), usable, 0.0)
        count = full + before + (due if week == 0 else 0)
        age = np.where(count > 0, MID_WEEK, age + 7.0)
        old = age >= fleet.oil_days
        count = count + old
        hours, age = np.where(old, 0.0, hours), np.where(old, 0.0, age)
        services[:, week] = count.sum(axis=1)
        litres[:, week] = count @ by_grade
    return services, litres


def _table(draws_by_item: dict[tuple[str, str | None], Floats], as_of: date, weeks: int) -> pl.DataFrame:
    """Rows week by week, then those of all weeks."""
    spans = [(week, week + 1) for week in range(weeks)] + ([(0, weeks)] if weeks > 1 else [])
    rows = []
    for first, last in spans:
        for (item, grade), draws in draws_by_item.items():
            total = draws[:, first:last].sum(axis=1)
            low, high = _range(total)
            begin, end = as_of + timedelta(days=7 * first), as_of + timedelta(days=7 * last - 1)
            unit = "l" if item == OIL else item
            rows.append((begin, end, item, grade, unit, float(total.mean()), low, high))
    return pl.DataFrame(rows, schema=empty_forecast().schema, orient="row").select(COLUMNS)


def _range(total: Floats) -> tuple[float, float]:
    """The 10 and 90 % points of totals, (S,)."""
    if total.size >= POINTS_FROM_DRAWS:
        low, high = np.quantile(total, LOW_HIGH)
    else:
        low, high = np.maximum(total.mean() + total.std(ddof=1) * ndtri(LOW_HIGH), 0.0)
    return float(low), float(high)


def _sentences(
    fleet: ForecastFleet, tables: ForecastTables, parts: pl.DataFrame | None, logged: tuple[int, int]
) -> tuple[str, ...]:
    """Sentences on the sources of the forecast, and on what is counted but not known.

    logged : rebuilds and services in the log
    """
    rebuilt, changes = logged
    given = (("the usage log", tables.usage), ("bookings", tables.bookings))
    sources = [name for name, table in given if table is not None]
    sentences = [f"Riding comes from {' and '.join(sources) or 'the drains'}; ranges hold four times in five."]
    if parts is not None:
        sentences.append("Rebuilds are units in which a part falls due, by the maker's longest life or by its wear.")
    elif rebuilt:
        sentences.append(
            f"No table says how long a component may run, so rebuilds are taken at the log's rate: {rebuilt} of "
            f"{changes} services."
        )
    else:
        sentences.append(
            "The log has no rebuild and no table says how long a component may run, so none is forecast."
        )
    idle = (fleet.riding.rate <= 0) & ~(fleet.booked > 0).any(axis=1)
    for which, what in (
        (np.isnan(fleet.fill_l), "without a known fill: the oil is not in the litres"),
        (np.isnan(fleet.interval), "without an interval: counted by the oil's age only"),
        (np.isnan(fleet.hours), "with oil of unknown hours: counted as due now"),
        (idle, "without known riding: counted only where due now or by the oil's age"),
    ):
        count = int(which.sum())
        if count:
            sentences.append(f"{count} {'unit' if count == 1 else 'units'} {what}.")
    return tuple(sentences)
