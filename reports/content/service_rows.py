"""The next-service table as objects, one for each unit, those due first at the top."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from draincurve.pipeline.deciding import PlannedRide
from draincurve.reports.content import wording
from draincurve.reports.content.trade_words import SET_BY, range_of_oil
from draincurve.reports.content.unit_names import UnitNames, anchor
from draincurve.schemas.channels import channel_names
from draincurve.schemas.next_service_table import WITH_FLEET


@dataclass(frozen=True, slots=True)
class ServiceRow:
    """One unit in service; hours [h]; None where not known. `booked_on` is when an event starts.

    close_channels : those that give about the same part of the risk, empty where one gives most of it
    past_plausible_h : a fill longer than any that is possible by the log [h], where the estimate of the hours on the
    oil is past it; these hours, and what follows from them, are then None.
    rides_booked : whether any ride of the fleet is booked; next_ride : day of the unit's own next one, None without
    """

    name: str
    anchor: str
    machine: str | None
    position: str | None
    site: str | None
    spring_type: str | None
    oil_grade: str | None
    rider: str | None
    drains: int
    last_drained_on: date | None
    hours_on_oil: float | None
    estimated: bool
    interval_h: float | None
    interval_low_h: float | None
    interval_high_h: float | None
    set_by: str | None
    hours_left: float | None
    due_on: date | None
    due_on_early: date | None
    due_on_late: date | None
    booked_on: date | None
    risk_now: float | None
    hours_ratio: float | None
    hours_ratio_low: float | None
    hours_ratio_high: float | None
    p_faster: float | None
    standing: str
    turned: bool
    due_now: bool
    close_channels: str = ""
    past_plausible_h: float | None = None
    rides_booked: bool = False
    next_ride: date | None = None

    @property
    def act_by(self) -> date | None:
        """The earlier of the due date and the booked event; None where neither is known."""
        return min((day for day in (self.due_on, self.booked_on) if day is not None), default=None)

    @property
    def interval_range_h(self) -> tuple[float, float] | None:
        """Both ends of the interval's range [h]; None where they are not known."""
        low, high = self.interval_low_h, self.interval_high_h
        return None if low is None or high is None else (low, high)

    @property
    def set_by_text(self) -> str:
        """What set the interval, in short words, and the channels that come close to it."""
        if self.set_by is None:
            return wording.UNKNOWN
        close = [name for name in self.close_channels.split(" and ") if name and name != self.set_by]
        if close and self.set_by in channel_names():
            return f"{self.set_by} ({wording.listed(close)} close)"
        return SET_BY[self.set_by].label

    @property
    def range_text(self) -> str:
        """Range of the oil's hours, named as such where the interval comes from something else; or empty."""
        return range_of_oil(wording.hours_range(self.interval_low_h, self.interval_high_h), self.set_by)

    @property
    def ratio_text(self) -> str:
        """The hours ratio with its range."""
        return wording.ratio(self.hours_ratio, low=self.hours_ratio_low, high=self.hours_ratio_high)

    @property
    def fleet_hours_text(self) -> str:
        """How long oil lasts in this unit, such as 0.46x (0.3 to 0.7) the typical unit's hours; or empty."""
        return "" if self.hours_ratio is None else f"{self.ratio_text} the typical unit's hours"

    @property
    def standing_text(self) -> str:
        """The standing, with how long oil lasts where that is known."""
        return ", ".join(part for part in (self.standing, self.fleet_hours_text) if part)

    @property
    def unsure_text(self) -> str:
        """That a unit with the fleet may yet be faster or slower, where its ratio's range is clear of 1; or empty."""
        if self.standing != WITH_FLEET or self.hours_ratio_low is None or self.hours_ratio_high is None:
            return ""
        if self.hours_ratio_high < 1.0:
            return "perhaps faster, not sure enough"
        return "perhaps slower, not sure enough" if self.hours_ratio_low > 1.0 else ""

    @property
    def location(self) -> str:
        """Machine and position, as far as known."""
        return ", ".join(part for part in (self.machine, self.position) if part)

    @property
    def spring_text(self) -> str:
        """The spring in the unit."""
        return self.spring_type or "spring not known"

    @property
    def oil_text(self) -> str:
        """The oil in the unit."""
        return self.oil_grade or "oil not known"

    @property
    def rider_text(self) -> str:
        """Who rides the unit."""
        return self.rider or "rider not known"

    @property
    def no_hours_by_wear(self) -> bool:
        """Whether wear leaves no hours at all, which a change of oil does not remedy."""
        return self.set_by == "wear" and self.interval_h == 0.0

    @property
    def due_by_estimate(self) -> bool:
        """Whether the unit is due now by nothing but hours that are estimated."""
        known = self.hours_on_oil is not None or self.past_plausible_h is not None
        return self.due_now and self.estimated and known and self.set_by != "oil_age"

    @property
    def on_oil_text(self) -> str:
        """Hours on the oil, without their unit; an estimate to the hour, and none past any fill in the log."""
        if self.past_plausible_h is not None:
            return f"over {self.past_plausible_h:.0f}"
        if self.hours_on_oil is None:
            return wording.UNKNOWN
        return f"{self.hours_on_oil:.0f}" if self.estimated else f"{self.hours_on_oil:.1f}"

    @property
    def on_oil_hours(self) -> str:
        """Hours on the oil with their unit, and that they are an estimate."""
        return f"about {self.on_oil_text} h" if self.estimated else f"{self.on_oil_text} h"

    @property
    def left_text(self) -> str:
        """Hours left, or over, or why there is no such number."""
        if self.interval_h is None:
            return "no interval"
        if self.no_hours_by_wear:
            return "a wear limit may be passed"
        if self.past_plausible_h is not None:
            return "estimated hours are far over any fill in the log"
        if self.hours_left is None:
            return "no oil change on record" if self.last_drained_on is None else "hours on the oil not known"
        hours = f"{abs(self.hours_left):.1f} h"
        if self.estimated:
            hours = f"about {abs(self.hours_left):.0f} h" if abs(self.hours_left) > 0.5 else "under an hour"
        if self.hours_left <= 0.0:
            return f"{hours} over" if self.hours_left < 0.0 else "interval reached"
        return f"{hours} left"

    def ride_text(self, as_of: date) -> str:
        """When the unit is booked to ride next; empty in a fleet without bookings."""
        if not self.rides_booked:
            return ""
        return "no ride booked" if self.next_ride is None else f"rides {wording.weekday(self.next_ride, as_of)}"

    def due_text(self, as_of: date) -> str:
        """When to act: before an event, by a day, now, or not known."""
        if self.due_now:
            return "due now"
        act_by = self.act_by
        if act_by is None:
            return "no date known" if self.hours_left is not None or self.interval_h is None else "treat as due"
        if act_by == self.booked_on:
            return f"before {wording.weekday(act_by, as_of)}"
        return f"by {wording.weekday(act_by, as_of)}"


Located = tuple[str | None, str | None, str, float | None]
"""Machine and position of a unit, its channels of close risk, and the hours that its estimate is past."""


def service_rows(
    next_service: pl.DataFrame,
    names: UnitNames,
    *,
    as_of: date,
    unit_reasons: pl.DataFrame | None = None,
    rides: Mapping[str, Sequence[PlannedRide]] | None = None,
) -> tuple[ServiceRow, ...]:
    """All rows, soonest first: due now, then without a date because unknown is never safe, then by date.

    Of units that are due now, those that ride next come first. unit_reasons : as in Decided, for the machine and
    position of each unit; None leaves them empty.  rides : as `planned_rides` gives them.
    """
    locations: dict[str, Located] = {}
    if unit_reasons is not None:
        cells = unit_reasons.select("unit_id", "site", "machine", "position", "close_channels", "past_plausible_h")
        locations = {
            names.of(unit_id, site): tuple(cells_of_unit) for unit_id, site, *cells_of_unit in cells.iter_rows()
        }
    rows = (
        _row(row, names.of(row["unit_id"], row["site"]), as_of=as_of, locations=locations, rides=rides)
        for row in next_service.iter_rows(named=True)
    )
    return tuple(sorted(rows, key=_urgency))


def reasons_by_name(unit_reasons: pl.DataFrame, names: UnitNames) -> dict[str, str]:
    """The sentence on what set each unit's interval and date, by the unit's name."""
    cells = unit_reasons.select("unit_id", "site", "why")
    return {names.of(unit_id, site): wording.sentence(why or "") for unit_id, site, why in cells.iter_rows()}


def _urgency(row: ServiceRow) -> tuple[int, int, float, str]:
    left = -1.0 if row.hours_left is None else row.hours_left
    if row.due_now:
        return (0, (row.next_ride or date.max).toordinal(), left, row.name)
    return (1, 0, left, row.name) if row.act_by is None else (2, row.act_by.toordinal(), left, row.name)


def _row(
    cells: dict[str, Any],
    name: str,
    *,
    as_of: date,
    locations: dict[str, Located],
    rides: Mapping[str, Sequence[PlannedRide]] | None,
) -> ServiceRow:
    hours_left = wording.finite_number(cells["hours_left"])
    machine, position, close_channels, past_plausible_h = locations.get(name, (None, None, "", None))
    days = [
        day for day in (wording.as_date(cells["due_on"]), wording.as_date(cells["due_before"])) if day is not None
    ]
    return ServiceRow(
        name=name,
        anchor=anchor(name),
        machine=machine,
        position=position,
        site=cells["site"],
        spring_type=cells["spring_type"],
        oil_grade=cells["oil_grade"],
        rider=cells["rider"],
        drains=int(cells["drains"] or 0),
        last_drained_on=wording.as_date(cells["last_drained_on"]),
        hours_on_oil=wording.finite_number(cells["hours_on_oil"]),
        estimated=cells["hours_on_oil_basis"] == "estimated",
        interval_h=wording.finite_number(cells["interval_h"]),
        interval_low_h=wording.finite_number(cells["interval_low_h"]),
        interval_high_h=wording.finite_number(cells["interval_high_h"]),
        set_by=cells["set_by"],
        hours_left=hours_left,
        due_on=wording.as_date(cells["due_on"]),
        due_on_early=wording.as_date(cells["due_on_early"]),
        due_on_late=wording.as_date(cells["due_on_late"]),
        booked_on=wording.as_date(cells["due_before"]),
        risk_now=wording.finite_number(cells["risk_now"]),
        hours_ratio=wording.finite_number(cells["hours_ratio"]),
        hours_ratio_low=wording.finite_number(cells["hours_ratio_low"]),
        hours_ratio_high=wording.finite_number(cells["hours_ratio_high"]),
        p_faster=wording.finite_number(cells["p_faster"]),
        standing=str(cells["standing"]),
        turned=bool(cells["turned"]),
        due_now=(hours_left is not None and hours_left <= 0.0) or any(day <= as_of for day in days),
        close_channels=close_channels,
        past_plausible_h=past_plausible_h,
        rides_booked=rides is not None,
        next_ride=next((ride.starts_on for ride in (rides or {}).get(name, ())), None),
    )
