"""service.ics: each unit's date for the shop's own calendar (RFC 5545), as the same event in every run."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

import polars as pl
from icalendar import Calendar, Event

from draincurve.pipeline.deciding import planned_rides
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading.cleaning import spelling_key
from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import SOON_DAYS
from draincurve.reports.content.oil_to_have import fill_amounts
from draincurve.reports.content.part_findings import part_findings
from draincurve.reports.content.sections.work_later import changes_again
from draincurve.reports.content.service_rows import ServiceRow, reasons_by_name, service_rows
from draincurve.reports.content.shown_units import shown_result
from draincurve.reports.content.unit_names import UnitNames, unit_names
from draincurve.reports.content.work_text import BEFORE, DUE, Amount, oil_is_changed
from draincurve.reports.mail_and_calendar.event_text import (
    SHORT_CAUTIONS,
    description_text,
    inspect_description,
    location_text,
    oil_line,
    one_line,
    summary_text,
    with_cautions,
)

PRODUCT = "-//draincurve//service calendar//EN"
_UNITS = UUID("6f0b1c1e-2f0d-5d0a-9a43-1f6f1f3b7a55")
"""Name space of the identifiers; a change would double every event at the next import."""
_TODAY = "units to see to today"
_FIRST_DAY = date(1970, 1, 1)
_MOST_NAMED = 20
"""Units named in one event; the report names all of them."""
_CANCELLED_DAYS = 730
"""A unit without a drain for so long has no event any more that could still be in a calendar."""


def write_calendar(result: PlanResult, path: Path) -> None:
    """The calendar of one run; the same result gives the same bytes."""
    path.write_bytes(service_calendar(result))


def service_calendar(whole: PlanResult) -> bytes:
    """One all-day event for each unit in service that has a date, and one today for each unit to inspect now.

    The inspection of a unit whose service is today too is in that event. Units without a date share one event of
    today, and so do those of a large fleet that are to be inspected beyond the ones that the report names.

    The day of an event is the last day on which to act: the due date, the day before a booked event, or the day of
    the report for a unit that is already due. An identifier belongs to the shop (see `_shop`) and the unit, however
    its name is spelt, and DTSTAMP, LAST-MODIFIED and SEQUENCE rise with the day of the report: importing a later file
    moves an event and adds none. The event of a unit that left service is cancelled. Of a large fleet the events are
    those of the units shown in the report, which include those due soonest.

    Source: RFC 5545, sections 3.1 (folding), 3.6.1 (all-day events), 3.8.1.11 (STATUS), 3.8.4.7 (UID) and 3.8.7.4
    (SEQUENCE); RFC 5546, section 2.1.4 (a higher SEQUENCE replaces); RFC 7986, section 5.1 (NAME).
    """
    result = shown_result(whole)
    names = unit_names(result)
    rows = service_rows(
        result.decided.next_service, names, as_of=result.as_of, unit_reasons=result.decided.unit_reasons
    )
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", "Suspension service")
    for event in (
        *_today(result, rows, names=names),
        *_inspections(result, rows, names=names),
        *_of_units(result, rows, names=names),
        *_cancelled(whole, names=unit_names(whole)),
    ):
        calendar.add_component(event)
    return bytes(calendar.to_ical(sorted=False))


def _shop(result: PlanResult) -> str:
    """Whose units these are: the settings' shop, else the name of the log, the same for each of its sites."""
    return result.settings.shop or str(result.notes.get("whole_log_name", result.log.name))


def _identity(shop: str, unit_id: str, site: str | None, *, names: UnitNames) -> str:
    """What the identifier of a unit is made of: the shop, and the id without case, spaces and punctuation.

    The site is part of it only where several units share an id, so that a unit that moves keeps its event.
    """
    unit_key = spelling_key(unit_id)
    return (
        f"{shop}\nunit {unit_key}"
        if names.of(unit_id, site) == unit_id
        else f"{shop}\nunit {unit_key}\n{spelling_key(site or '')}"
    )


def _of_units(result: PlanResult, rows: tuple[ServiceRow, ...], *, names: UnitNames) -> Iterator[Event]:
    """The event of each unit with a day on which to act."""
    as_of, shop, why = result.as_of, _shop(result), reasons_by_name(result.decided.unit_reasons, names)
    amounts, parts, risk = fill_amounts(result), part_findings(result), result.settings.accepted_risk
    keys = result.decided.next_service.select("unit_id", "site")
    identities = {names.of(*key): _identity(shop, *key, names=names) for key in keys.iter_rows()}
    signs = {names.of(sign["unit_id"], sign["site"]): sign["signs"] for sign in _signs(result)}
    rides = planned_rides(result.described.usage, result.described.bookings, as_of) or {}
    for row in rows:
        day, seen = _day(row, as_of), signs.get(row.name, "")
        if day is not None:
            change = DUE if row.due_now else BEFORE
            again = changes_again(row, rides.get(row.name, ()), farthest=as_of + timedelta(days=SOON_DAYS))
            oil = oil_line(
                row,
                amounts.get(row.name, Amount(None, None)),
                parts.get(row.name, ()),
                is_changed=oil_is_changed(row, change=change, accepted_risk=risk),
            )
            today = seen if day == as_of else ""
            yield _event(
                identities[row.name],
                day,
                summary=summary_text(row, signs=today, again=again, as_of=as_of, accepted_risk=risk),
                description=description_text(
                    row, oil, as_of=as_of, why=why.get(row.name, ""), signs=seen, again=again
                ),
                as_of=as_of,
                location=location_text(row),
            )


def _inspections(result: PlanResult, rows: tuple[ServiceRow, ...], *, names: UnitNames) -> Iterator[Event]:
    """The event of each unit to inspect now whose service is on another day; it has an identifier of its own."""
    amounts, parts = fill_amounts(result), part_findings(result)
    by_name = {row.name: row for row in rows}
    for sign in _signs(result)[: result.described.processing.inspected_units]:
        name = names.of(sign["unit_id"], sign["site"])
        row = by_name.get(name)
        if row is None or _day(row, result.as_of) != result.as_of:
            amount = amounts.get(name, Amount(None, None))
            yield _event(
                f"{_identity(_shop(result), sign['unit_id'], sign['site'], names=names)}\ninspect",
                result.as_of,
                summary=f"{one_line(name)}: Inspect now: {one_line(sign['signs'])}",
                description=inspect_description(
                    f"{sign['signs']}, seen {wording.seen_day(wording.as_date(sign['drained_on']), result.as_of)}",
                    "" if row is None else oil_line(row, amount, parts.get(name, ()), is_changed=False),
                ),
                as_of=result.as_of,
                location=(sign["site"] or "") if row is None else location_text(row),
            )


def _signs(result: PlanResult) -> list[dict[str, Any]]:
    """Units to inspect now: unit_id, site, drained_on, signs."""
    return list(result.decided.inspect_now.iter_rows(named=True))


def _day(row: ServiceRow, as_of: date) -> date | None:
    """The last day on which to act: the day before a booked event, which must find fresh oil in the unit."""
    if row.due_now or row.act_by is None:
        return as_of if row.due_now else None
    return max(as_of, row.act_by - timedelta(days=1)) if row.act_by == row.booked_on else row.act_by


def _cancelled(result: PlanResult, *, names: UnitNames) -> Iterator[Event]:
    """The event of each unit that has drains or stands in the register and is not in service, as cancelled."""
    table = result.decided.next_service.select("unit_id", "site")
    in_service = {names.of(*key) for key in table.iter_rows()}
    recent = pl.col("drained_on").max() > result.as_of - timedelta(days=_CANCELLED_DAYS)
    drained = result.described.drains.group_by(pl.col("unit_id", "site").cast(pl.String)).agg(recent.alias("recent"))
    gone = [drained.filter("recent").select("unit_id", "site")]
    if result.described.units is not None:
        gone.append(
            result.described.units.filter(~pl.col("in_service")).select(pl.col("unit_id", "site").cast(pl.String))
        )
    units = {names.of(*key): key for key in pl.concat(gone).sort("unit_id", "site").iter_rows()}
    for name, key in units.items():
        if name not in in_service:
            yield _event(
                _identity(_shop(result), *key, names=names),
                result.as_of,
                summary=f"{one_line(name)}: not in service, no date",
                description="\n".join(SHORT_CAUTIONS),
                as_of=result.as_of,
                status="CANCELLED",
            )


def _event(
    key: str, day: date, *, summary: str, description: str, as_of: date, location: str = "", status: str = "CONFIRMED"
) -> Event:
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
    event.add("status", status)
    event.add("transp", "TRANSPARENT")
    return event


def _today(result: PlanResult, rows: tuple[ServiceRow, ...], *, names: UnitNames) -> list[Event]:
    """One event for units without a date, and for units to inspect that have no event of their own."""
    own = result.described.processing.inspected_units
    inspect = [
        f"{one_line(names.of(sign['unit_id'], sign['site']))} ({one_line(sign['signs'])})"
        for sign in (_signs(result)[own:] if own is not None else ())
    ]
    undated = [one_line(row.name) for row in rows if row.act_by is None and not row.due_now]
    summaries, lines = [], []
    if inspect:
        summaries.append(f"inspect {wording.counted(len(inspect), 'more unit')} now")
        lines.append(f"Inspect now, too: {wording.first_few(inspect, _MOST_NAMED)}.")
    if undated:
        summaries.append(f"{wording.counted(len(undated), 'unit')} without a date")
        lines.append(
            f"No date is known for {wording.first_few(undated, _MOST_NAMED)}. Unknown is never safe: treat as due."
        )
    if not summaries:
        return []
    summary = wording.sentence(", ".join(summaries)).rstrip(".")
    today = f"{_shop(result)}\n{result.notes.get('site') or ''}\n{_TODAY}"
    return [_event(today, result.as_of, summary=summary, description=with_cautions(lines), as_of=result.as_of)]
