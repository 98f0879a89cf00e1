"""Bookings that cannot be kept as they are: those of units that are not in service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.deciding import PlannedRide
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import unit_names

MOST_NAMED = 8
"""Units named in the sentence; the others are counted."""


@dataclass(frozen=True, slots=True)
class BookedOutOfService:
    """One unit of the log or the register that is booked and not in service; days : of its rides, in order."""

    name: str
    site: str | None
    machine: str | None
    position: str | None
    days: tuple[date, ...]


def booked_out_of_service(
    whole: PlanResult, rides: Mapping[str, Sequence[PlannedRide]] | None
) -> tuple[BookedOutOfService, ...]:
    """Those units, by their first ride. A unit that nothing else names is asked about among the questions.

    whole : of all units, also where a report shows only some.  rides : as `planned_rides` gives them.
    """
    if not rides:
        return ()
    names = unit_names(whole)
    in_service = {names.of(*key) for key in whole.decided.next_service.select("unit_id", "site").iter_rows()}
    elsewhere = [name for name, planned in rides.items() if planned and name not in in_service]
    found = [
        BookedOutOfService(name, *place, tuple(ride.starts_on for ride in rides[name]))
        for name, place in _places(whole, elsewhere).items()
    ]
    return tuple(sorted(found, key=lambda unit: (unit.days, unit.name)))


def unkept_text(units: Sequence[BookedOutOfService], *, as_of: date) -> str:
    """Which units those are and what to do; empty without one."""
    if not units:
        return ""
    named = [f"{_located(unit)}, {wording.weekday(unit.days[0], as_of)}" for unit in units[:MOST_NAMED]]
    more = len(units) - MOST_NAMED
    them = wording.plural(len(units), "it", many="them")
    return (
        f"Booked but not in service: {'; '.join(named)}{f'; and {more} more' if more > 0 else ''}. "
        f"Put {them} into service or change the {wording.plural(len(units), 'booking')}."
    )


def _located(unit: BookedOutOfService) -> str:
    place = ", ".join(part for part in (unit.machine, unit.position) if part)
    return f"{unit.name} ({place})" if place else unit.name


def _places(whole: PlanResult, names: Sequence[str]) -> dict[str, tuple[str | None, str | None, str | None]]:
    """Site, machine and position of those units that the log or the register has; the register's where both do.

    In the report of one site the register still has the units of all.
    """
    if not names:
        return {}
    tables = [whole.described.drains]
    if whole.described.units is not None:
        out = whole.described.units.filter(~pl.col("in_service"))
        if "site" in whole.notes:
            out = out.filter(pl.col("site").cast(pl.String).eq_missing(pl.lit(whole.notes["site"], pl.String)))
        tables.append(out)
    places: dict[str, tuple[str | None, str | None, str | None]] = {}
    for table in tables:
        rows = table.filter(pl.col("unit_key").cast(pl.String).is_in(names))
        columns = [
            pl.col(name).cast(pl.String) if name in rows.columns else pl.lit(None, pl.String).alias(name)
            for name in ("unit_key", "site", "machine", "position")
        ]
        for key, site, machine, position in rows.select(columns).unique("unit_key", keep="last").iter_rows():
            places[key] = (site, machine, position)
    return places
