"""The text of one event: what to do, where, why, and what overrides the date."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.part_findings import PartFinding, in_short
from draincurve.reports.content.sections.work_later import again_text
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.content.work_text import BEFORE, DUE, Amount, amount_text, task_text

SHORT_CAUTIONS = (*CAUTIONS[:5], "The service report says the rest.")
_BREAKS = re.compile(r"[\x00-\x20\x7f-\xa0\u2028\u2029]+")
_TURNING_MARKS = re.compile(r"[\u202a-\u202e\u2066-\u2069]")
"""Marks that change the direction of the text after them; one left open would turn the rest of the event."""


def one_line(name: str) -> str:
    """A name on one line; one that runs from right to left is isolated from the words around it."""
    return wording.isolated(_TURNING_MARKS.sub("", _BREAKS.sub(" ", name)).strip() or "unit without a name")


def summary_text(row: ServiceRow, *, signs: str, again: Sequence[date], as_of: date, accepted_risk: float) -> str:
    """What to do to which unit, readable without opening the event.

    signs : seen on it, where the event is on the day of the report, which is the day to inspect; else empty.
    again : days before which its rides need fresh oil once more within the week
    """
    change = DUE if row.due_now else BEFORE
    seen = one_line(signs) if signs else ""
    task = task_text(row, signs=seen, change=change, as_of=as_of, accepted_risk=accepted_risk)
    more = again_text(again, as_of)
    return f"{one_line(row.name)}: {task}{f', and {more}' if more else ''}"


def oil_line(row: ServiceRow, amount: Amount, parts: Sequence[PartFinding], *, is_changed: bool) -> str:
    """Which oil and how much of it, and what is known of the parts; is_changed : for certain, else perhaps."""
    oil = f"Oil{'' if is_changed else ', if it is changed'}: {one_line(row.oil_text)}, {amount_text(amount)}."
    return f"{oil} Parts: {one_line(in_short(parts))}." if parts else oil


def location_text(row: ServiceRow) -> str:
    """Machine, position and site, as far as known."""
    return ", ".join(one_line(part) for part in (row.machine, row.position, row.site) if part)


def description_text(
    row: ServiceRow, oil: str, *, as_of: date, why: str, signs: str, again: Sequence[date] = ()
) -> str:
    """The oil, what set the date, its range, the hours that take precedence over any date, and cautions.

    signs : seen on the unit, empty without; they come first, since they wait for no date.  again : as for the summary
    """
    more = again_text(again, as_of)
    lines = [
        f"Inspect now, before any ride: {one_line(signs)}." if signs else "",
        oil,
        f"As of {wording.day(as_of)}: {row.due_text(as_of)}.",
        f"Change it {more}, if it is ridden as booked." if more else "",
        _hours(row, as_of=as_of),
        _range(row, as_of=as_of),
        one_line(why) if why else "",
    ]
    return with_cautions(lines)


def inspect_description(signs: str, oil: str) -> str:
    """What to inspect, and what is known of oil and parts; oil : empty for a unit that is not in service."""
    return with_cautions([f"Inspect now, before any ride: {one_line(signs)}.", oil])


def with_cautions(lines: Sequence[str]) -> str:
    """The lines that say something, then the cautions."""
    return "\n".join([*(line for line in lines if line), "", *SHORT_CAUTIONS])


def _hours(row: ServiceRow, *, as_of: date) -> str:
    """The interval with its range, what set it, and that the hour meter takes precedence over the date."""
    if row.interval_h is None:
        return ""
    ranged = f" ({row.range_text} h)" if row.range_text else ""
    on_oil = "" if row.hours_on_oil is None else f" {row.on_oil_hours} on the oil, {row.left_text}."
    text = f"Interval {wording.hours(row.interval_h)}{ranged}, set by {row.set_by_text}.{on_oil}"
    if row.due_now:
        return text
    task = "Inspect and measure for wear" if row.set_by == "wear" else "Change the oil"
    return f"{text} {task} at {wording.hours(row.interval_h)} or {row.due_text(as_of)}, whichever comes first."


def _range(row: ServiceRow, *, as_of: date) -> str:
    between = wording.day_range(row.due_on_early, row.due_on_late, beside=as_of)
    return f"Expected {between} (80 % range)." if between and not row.due_now else ""
