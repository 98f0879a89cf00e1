"""Text of the work list: what each word means, what to do, why, and how much oil."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow

INSPECT, DUE, BEFORE = "inspect", "due", "before the next ride"
MEANINGS = (
    (INSPECT, "a sign of damage was seen. Find its cause before the unit is ridden again, whatever its hours."),
    (
        DUE,
        "the hours or days of the oil or of a part are used up, or not known. See to it before it is ridden again.",
    ),
    (BEFORE, "the hours or days would be used up by the day of that ride, or during it. See to it before the ride."),
)
"""The words in order of urgency, and what each means."""

SAME_VOLUME = 0.02
"""Volumes that differ by this share or less are the same: noise, as common practice has it."""


@dataclass(frozen=True, slots=True)
class Amount:
    """Oil that a unit takes [ml]: by the register, and the median of what its drains were filled with."""

    register_ml: float | None
    logged_ml: float | None

    @property
    def ml(self) -> float | None:
        """The larger of both, so that enough is ready; None where neither is known."""
        return max((known for known in (self.register_ml, self.logged_ml) if known is not None), default=None)

    @property
    def litres(self) -> float | None:
        """The same in litres."""
        return None if self.ml is None else self.ml / 1000.0


def amount_text(amount: Amount) -> str:
    """How much oil goes in; both volumes where register and log differ."""
    register, logged = amount.register_ml, amount.logged_ml
    if register is None:
        return "amount not known: see the maker's manual" if logged is None else f"{logged:.0f} ml, as last filled"
    if logged is None or abs(logged - register) <= SAME_VOLUME * register:
        return f"{register:.0f} ml"
    return f"{register:.0f} ml by the register, {logged:.0f} ml by its drains: which?"


def oil_is_changed(row: ServiceRow, *, change: str, accepted_risk: float) -> bool:
    """Whether the oil is changed; where wear sets the hours, only if the oil's own risk requires it.

    change : as `task_text` has it
    """
    lasts = row.set_by == "wear" and row.risk_now is not None and row.risk_now < accepted_risk
    return bool(change) and not lasts


def task_text(row: ServiceRow, *, signs: str, change: str, as_of: date, accepted_risk: float) -> str:
    """What to do: inspect for the signs, change the oil, or both.

    signs : empty where none was seen; change : DUE or BEFORE, empty where the oil can wait. Where neither needs
    anything, a part is due.
    """
    oil = "change the oil"
    if row.set_by == "wear":
        measure = "inspect and measure for wear"
        oil = f"{measure}, {oil}" if oil_is_changed(row, change=change, accepted_risk=accepted_risk) else measure
    if change == BEFORE and row.act_by is not None:
        oil += f" {'before' if row.act_by == row.booked_on else 'by'} {wording.weekday(row.act_by, as_of)}"
    if change == DUE and not signs:
        oil += " now"
    if not signs:
        return wording.sentence(oil)[:-1] if change else "See to the parts that are due"
    return f"Inspect: {signs}; then {oil}" if change else f"Inspect: {signs}"


def why_text(row: ServiceRow) -> str:
    """Why, in short: hours on the oil against the hours allowed, and what set them."""
    if row.interval_h is None:
        return "nothing sets its hours: treat as due"
    if row.no_hours_by_wear:
        return f"{row.left_text}; chance that the oil is past its limit: {wording.percent(row.risk_now)}"
    if row.hours_on_oil is None:
        return f"{row.left_text}: treat as due ({wording.hours(row.interval_h)} allowed)"
    if row.interval_h == 0.0:
        allows = f"{row.set_by_text} allows less than one step"
        return f"{row.on_oil_hours} on the oil; {allows}: change the oil after every ride"
    hours = f"{row.on_oil_hours} of {wording.hours(row.interval_h)}"
    if row.set_by == "oil_age":
        return f"{hours}; the oil's days come first"
    if row.hours_left is not None and row.hours_left < 0.0:
        hours = f"{hours}, {row.left_text}"
    return hours if row.set_by is None else f"{hours}; set by {row.set_by_text}"
