"""service.ics: each unit's date for the shop's own calendar (RFC 5545), as the same event in every run."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid5

from icalendar import Calendar, Event

from draincurve.pipeline.reading.cleaning import spelling_key
from draincurve.pipeline.report import Report
from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow, reasons_by_name, service_rows
from draincurve.reports.content.shown_units import shown_result
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.content.unit_names import UnitNames, unit_names

PRODUCT = "-//draincurve//service calendar//EN"
_UNITS = UUID("6f0b1c1e-2f0d-5d0a-9a43-1f6f1f3b7a55")
"""Name space of the identifiers; a change would double every event at the next import."""
_TODAY = "units to see to today"
_FIRST_DAY = date(1970, 1, 1)
_SHORT_CAUTIONS = (*CAUTIONS[:5], "The service report says the rest.")
_MOST_NAMED = 20
"""Units named in one event; the report names all of them."""
_BREAKS = re.compile(r"[\x00-\x20\x7f-\xa0\u2028\u2029]+")
_TURNING_MARKS = re.compile(r"[\u202a-\u202e\u2066-\u2069]")
"""Marks that change the direction of the text after them; one left open would turn the rest of the event."""


def write_calendar(result: Report, path: Path) -> None:
    """The calendar of one run; the same result gives the same bytes."""
    path.write_bytes(service_calendar(result))


def service_calendar(result: Report) -> bytes:
    """One all-day event for each unit in service that has a date, and one today for units that have none.

    The day of an event is the day by which to act, never after the unit's due date; for a unit that is already due it
    is the day of the report. An identifier belongs to the unit, however its name is spelt, and DTSTAMP, LAST-MODIFIED
    and SEQUENCE rise with the day of the report: importing a later file moves an event and adds none. Of a large
    fleet the events are those of the units shown in the report, which include those due soonest.

    Source: RFC 5545, sections 3.1 (folding), 3.6.1 (all-day events), 3.8.4.7 (UID) and 3.8.7.4 (SEQUENCE); RFC 7986,
    section 5.1 (NAME).
    """
    result = shown_result(result)
    names = unit_names(result)
    rows = service_rows(
        result.decided.next_service, names, as_of=result.as_of, unit_reasons=result.decided.unit_reasons
    )
    why = reasons_by_name(result.decided.unit_reasons, names)
    identifiers = _identifiers(result, names)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", "Suspension service")
    for event in _today(result, rows, names=names):
        calendar.add_component(event)
    for row in rows:
        day = result.as_of if row.due_now else row.act_by
        if day is not None:
            event = _event(
                identifiers[row.name],
                day,
                summary=f"{shown(row.name)}: {_what_to_do(row, day)}",
                description=_description(row, as_of=result.as_of, why=why.get(row.name, "")),
                as_of=result.as_of,
                location=_location(row),
            )
            calendar.add_component(event)
    return bytes(calendar.to_ical(sorted=False))


def shown(name: str) -> str:
    """A name on one line; one that runs from right to left is isolated from the words around it."""
    return wording.isolated(_TURNING_MARKS.sub("", _BREAKS.sub(" ", name)).strip() or "unit without a name")


def _identifiers(result: Report, names: UnitNames) -> dict[str, str]:
    """The identifier of each unit by its name: its id without case, spaces and punctuation, as logs are read.

    The site is part of it only where several units share an id, so that a unit that moves keeps its event.
    """
    found = {}
    for unit_id, site in result.decided.next_service.select("unit_id", "site").iter_rows():
        name = names.of(unit_id, site)
        key = spelling_key(unit_id) if name == unit_id else f"{spelling_key(unit_id)}\n{spelling_key(site or '')}"
        found[name] = f"unit {key}"
    return found


def _event(key: str, day: date, *, summary: str, description: str, as_of: date, location: str = "") -> Event:
    """One all-day event that does not block anybody's time."""
    stamp = datetime(as_of.year, as_of.month, as_of.day, tzinfo=UTC)
    event = Event()
    event.add("uid", str(uuid5(_UNITS, key)))
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", (as_of - _FIRST_DAY).days)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("summary", summary)
    event.add("description", description)
    if location:
        event.add("location", location)
    event.add("transp", "TRANSPARENT")
    return event


def _what_to_do(row: ServiceRow, day: date) -> str:
    """What to do, readable without opening the event."""
    if row.due_now:
        return "oil change due now"
    return "oil change before the event" if day == row.booked_on else "oil change due"


def _location(row: ServiceRow) -> str:
    return ", ".join(shown(part) for part in (row.machine, row.position, row.site) if part)


def _description(row: ServiceRow, *, as_of: date, why: str) -> str:
    """What set the date, its range, the hours that take precedence over any date, and cautions in short."""
    lines = [
        f"As of {wording.day(as_of)}: {row.due_words(as_of)}.",
        _hours(row),
        _range(row, as_of=as_of),
        shown(why) if why else "",
    ]
    return "\n".join([*(line for line in lines if line), "", *_SHORT_CAUTIONS])


def _hours(row: ServiceRow) -> str:
    """The interval with its range, what set it, and that the hour meter takes precedence over the date."""
    if row.interval_h is None:
        return ""
    between = wording.hours_range(row.interval_low_h, row.interval_high_h)
    ranged = f" (range before limits {between} h)" if between else ""
    on_oil = "" if row.hours_on_oil is None else f" {wording.hours(row.hours_on_oil)} on the oil, {row.left_words}."
    text = f"Interval {wording.hours(row.interval_h)}{ranged}, set by {row.set_by_words}.{on_oil}"
    if row.due_now:
        return text
    this_day = "before this day's riding" if row.act_by == row.booked_on else "on this day"
    return f"{text} Change the oil at {wording.hours(row.interval_h)} or {this_day}, whichever comes first."


def _range(row: ServiceRow, *, as_of: date) -> str:
    between = wording.day_range(row.due_on_early, row.due_on_late, beside=as_of)
    return f"Expected {between} (80 % range)." if between and not row.due_now else ""


def _today(result: Report, rows: tuple[ServiceRow, ...], *, names: UnitNames) -> list[Event]:
    """One event for units to inspect now and units without a date, which would otherwise be in no calendar."""
    inspect = [
        f"{shown(names.of(cells['unit_id'], cells['site']))} ({shown(cells['signs'])})"
        for cells in result.decided.inspect_now.iter_rows(named=True)
    ]
    undated = [shown(row.name) for row in rows if row.act_by is None and not row.due_now]
    summaries, lines = [], []
    if inspect:
        summaries.append(f"inspect {wording.counted(len(inspect), 'unit')} now")
        lines.append(f"Inspect now: {_few(inspect)}.")
    if undated:
        summaries.append(f"{wording.counted(len(undated), 'unit')} without a date")
        lines.append(f"No date is known for {_few(undated)}. Unknown is never safe: treat as due.")
    if not summaries:
        return []
    summary = wording.sentence(", ".join(summaries)).rstrip(".")
    description = "\n".join([*lines, "", *_SHORT_CAUTIONS])
    return [_event(_TODAY, result.as_of, summary=summary, description=description, as_of=result.as_of)]


def _few(names: list[str]) -> str:
    """The first names, and the number of the others."""
    more = len(names) - _MOST_NAMED
    return wording.listed(names) if more <= 0 else f"{', '.join(names[:_MOST_NAMED])} and {more} more"
