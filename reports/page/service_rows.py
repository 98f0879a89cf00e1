"""The next-service table as rows for the page: typed, named by anchor, in the order of what is due first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from reports.page import words

FASTER = "faster than the fleet"
SLOWER = "slower than the fleet"


@dataclass(frozen=True, slots=True)
class ServiceRow:
    """One unit in service; hours [h]; None where not known. `booked_on` and `booked_as` are one booked event."""

    unit_id: str
    anchor: str
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
    booked_as: str | None
    risk_now: float | None
    hours_ratio: float | None
    hours_ratio_low: float | None
    hours_ratio_high: float | None
    p_faster: float | None
    standing: str
    turned: bool

    @property
    def past_interval(self) -> bool:
        return self.hours_left is not None and self.hours_left <= 0.0

    @property
    def act_by(self) -> date | None:
        """The earlier of the due date and the booked event; None where neither is known."""
        return min((day for day in (self.due_on, self.booked_on) if day is not None), default=None)

    @property
    def set_by_words(self) -> str:
        return words.UNKNOWN if self.set_by is None else words.SET_BY.get(self.set_by, self.set_by)

    @property
    def ratio_words(self) -> str:
        return words.ratio(self.hours_ratio, self.hours_ratio_low, self.hours_ratio_high)

    def left_words(self) -> str:
        if self.hours_left is None:
            return "hours on the oil not known"
        if self.hours_left <= 0.0:
            return f"{-self.hours_left:.1f} h over" if self.hours_left < 0.0 else "interval reached"
        return f"{self.hours_left:.1f} h left"

    def due_words(self, as_of: date) -> str:
        """When to act, in the words of a diary: before an event, by a day, now, or not known."""
        if self.past_interval:
            return "due now"
        if self.hours_left is None:
            return "treat as due"
        act_by = self.act_by
        if act_by is None:
            return self.booked_as or "no date known"
        if act_by == self.booked_on:
            return f"before {words.weekday(act_by, as_of)}"
        return f"by {words.weekday(act_by, as_of)}"


def service_rows(next_service: pl.DataFrame) -> tuple[ServiceRow, ...]:
    """All rows, soonest first: past the interval, hours not known, by date, then without a date by hours left."""
    rows = [_row(cells) for cells in next_service.iter_rows(named=True)]
    return tuple(sorted(rows, key=_urgency))


def _urgency(row: ServiceRow) -> tuple[int, float, float, str]:
    left = 0.0 if row.hours_left is None else row.hours_left
    if row.past_interval:
        return (0, left, 0.0, row.unit_id)
    if row.hours_left is None:
        return (1, float(row.act_by.toordinal()) if row.act_by else 0.0, 0.0, row.unit_id)
    if row.act_by is not None:
        return (2, float(row.act_by.toordinal()), left, row.unit_id)
    return (3, left, 0.0, row.unit_id)


def _row(cells: dict[str, Any]) -> ServiceRow:
    booked_on = words.as_date(cells["due_before"])
    booked = cells["due_before"]
    return ServiceRow(
        unit_id=str(cells["unit_id"]),
        anchor=words.anchor(str(cells["unit_id"])),
        site=cells["site"],
        spring_type=cells["spring_type"],
        oil_grade=cells["oil_grade"],
        rider=cells["rider"],
        drains=int(cells["drains"] or 0),
        last_drained_on=words.as_date(cells["last_drained_on"]),
        hours_on_oil=words.number(cells["hours_on_oil"]),
        estimated=cells["hours_on_oil_basis"] == "estimated",
        interval_h=words.number(cells["interval_h"]),
        interval_low_h=words.number(cells["interval_low_h"]),
        interval_high_h=words.number(cells["interval_high_h"]),
        set_by=cells["set_by"],
        hours_left=words.number(cells["hours_left"]),
        due_on=words.as_date(cells["due_on"]),
        due_on_early=words.as_date(cells["due_on_early"]),
        due_on_late=words.as_date(cells["due_on_late"]),
        booked_on=booked_on,
        booked_as=f"before {booked}" if booked and booked_on is None else None,
        risk_now=words.number(cells["risk_now"]),
        hours_ratio=words.number(cells["hours_ratio"]),
        hours_ratio_low=words.number(cells["hours_ratio_low"]),
        hours_ratio_high=words.number(cells["hours_ratio_high"]),
        p_faster=words.number(cells["p_faster"]),
        standing=str(cells["standing"]),
        turned=bool(cells["turned"]),
    )
