"""The work list: what to do to which unit before the next ride, in the order of sites, machines and legs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from draincurve.pipeline.deciding import PlannedRide
from draincurve.pipeline.describing import units_held_back_past_limit
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import AHEAD_DAYS, SOON_DAYS
from draincurve.reports.content.freshness import Freshness
from draincurve.reports.content.oil_to_have import fill_amounts, oil_by_site
from draincurve.reports.content.part_findings import PartFinding, in_short, units_with_parts_due
from draincurve.reports.content.sections.next_ride import next_ride_text
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService
from draincurve.reports.content.sections.work_later import (
    again_text,
    changes_again,
    later_again,
    later_change,
    later_text,
)
from draincurve.reports.content.sections.work_order import WorkJob, WorkLine, WorkSite, sites_in_order
from draincurve.reports.content.sections.work_title import until_text, work_title
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trust_lines import MOST_NAMED
from draincurve.reports.content.unit_names import UnitNames, anchor
from draincurve.reports.content.work_text import (
    BEFORE,
    DUE,
    INSPECT,
    MEANINGS,
    Amount,
    amount_text,
    oil_is_changed,
    task_text,
    why_text,
)
from draincurve.schemas.channels import CHANNELS

TURNED = "dirtier than its own earlier drains: look for the cause"
"""Of a unit that has changed for the worse."""


@dataclass(frozen=True, slots=True)
class WorkList:
    """What to do for one day or one booking.

    until : the day up to which it goes.  parts_only : how many units are on it for a part alone, and how many of
    them are due within the week.  before : how many are neither to be inspected nor due yet.
    next_ride : on which machines work is due before the next ride, empty where that cannot be said.
    meanings : what each word asks for, the most urgent first.  oil : what to have ready, site by site.
    later : what comes after, with its oil.  notes : what the list does not know.
    """

    title: str
    until: str
    parts_only: int
    parts_only_soon: int
    before: int
    next_ride: str
    meanings: tuple[tuple[str, str], ...]
    sites: tuple[WorkSite, ...]
    oil: str
    later: str
    notes: tuple[str, ...]

    @property
    def lines(self) -> tuple[WorkLine, ...]:
        """All lines, site by site."""
        return tuple(line for site in self.sites for line in site.lines)


def work_list(
    result: PlanResult,
    rows: Sequence[ServiceRow],
    *,
    names: UnitNames,
    parts: Mapping[str, Sequence[PartFinding]],
    rides: Mapping[str, Sequence[PlannedRide]] | None,
    fresh: Freshness,
    unkept: Sequence[BookedOutOfService] = (),
    shown_note: str = "",
) -> WorkList:
    """The list up to the next booked day of each site, or over SOON_DAYS where nothing nearer is booked.

    rows : units in service, soonest due first.  parts : findings by unit.  rides : as `planned_rides` gives them.
    unkept : units that are booked and not in service.  shown_note : which units are listed. In a log that may be out
    of date, units that only estimated hours call due are counted, not listed.
    """
    farthest, risk = result.as_of + timedelta(days=SOON_DAYS), result.settings.accepted_risk
    until = _last_days(rows, farthest=farthest)
    signs, elsewhere = _signs(result, rows, names=names, waits=rides is not None)
    amounts, due_parts = fill_amounts(result), units_with_parts_due(result)
    jobs, later = [*elsewhere], []
    estimated = 0
    parts_only: list[ServiceRow] = []
    for row in rows:
        sign = signs.get(row.name, "")
        if fresh.outdated and row.due_by_estimate and not sign and row.name not in due_parts:
            estimated += 1
            continue
        change = _change(row, until=until[row.site])
        amount = amounts.get(row.name, Amount(None, None))
        again = changes_again(row, (rides or {}).get(row.name, ()), farthest=farthest)
        later += [later_again(row, amount, on) for on in again]
        if change or sign or row.name in due_parts:
            parts_only += [] if change or sign else [row]
            day = until[row.site] if row.rides_booked else None
            job = _job(row, change, sign, amount, parts.get(row.name, ()), as_of=result.as_of, until=day, risk=risk)
            said = again_text(again, result.as_of)
            jobs.append(_with_note(replace(job, line=replace(job.line, again=said)), said))
        if not change and row.act_by is not None and row.act_by <= farthest:
            later.append(later_change(row, amount, as_of=result.as_of, accepted_risk=risk))
    jobs = _with_other_legs(jobs, rows, result.judged.legs.partners, as_of=result.as_of)
    words = {job.line.name: job.line.word for job in jobs}
    told = not (fresh.outdated or shown_note)
    day_text = until_text(set(until.values()), result.as_of)
    return WorkList(
        title=work_title(jobs, day_text, estimated=bool(estimated)),
        until=day_text,
        parts_only=len(parts_only),
        parts_only_soon=sum(row.act_by is not None and row.act_by <= farthest for row in parts_only),
        before=sum(word == BEFORE for word in words.values()),
        next_ride=next_ride_text(rows, words, as_of=result.as_of, until=farthest, unkept=unkept) if told else "",
        meanings=MEANINGS,
        sites=sites_in_order(jobs, until, as_of=result.as_of),
        oil=_oil(jobs),
        later=later_text(later),
        notes=(*_silence(fresh, estimated), *_held_back_past_limit(result, rows, names), *_notes(jobs, shown_note)),
    )


def _last_days(rows: Sequence[ServiceRow], *, farthest: date) -> dict[str | None, date]:
    """The day up to which each site's list goes: its next booked day, today's among them, at most `farthest`."""
    until: dict[str | None, date] = {}
    for row in rows:
        until[row.site] = min(until.get(row.site, farthest), row.next_ride or farthest)
    return until


def _change(row: ServiceRow, *, until: date) -> str:
    """The word for a change of oil; empty where it can wait. Without a date it counts as due."""
    if row.due_now or row.act_by is None:
        return DUE
    return BEFORE if row.act_by <= until else ""


def _signs(
    result: PlanResult, rows: Sequence[ServiceRow], *, names: UnitNames, waits: bool
) -> tuple[dict[str, str], tuple[WorkJob, ...]]:
    """Signs by unit, with the day they were seen, and the lines of units that are not in service."""
    in_service = {row.name for row in rows}
    signs: dict[str, str] = {}
    elsewhere = []
    for cells in result.decided.inspect_now.iter_rows(named=True):
        name = names.of(cells["unit_id"], cells["site"])
        seen = wording.seen_day(wording.as_date(cells["drained_on"]), result.as_of)
        signs[name] = f"{cells['signs']} (seen {seen})"
        if name not in in_service:
            line = WorkLine(
                name, "", cells["site"] or "", "not in service", "", INSPECT,
                f"Inspect: {signs[name]}", "before it is used again", "", "", "",
            )  # fmt: skip
            elsewhere.append(WorkJob(line, result.as_of, "", "", None, None, False, waits))
    return signs, tuple(elsewhere)


def _job(
    row: ServiceRow,
    change: str,
    signs: str,
    amount: Amount,
    parts: Sequence[PartFinding],
    *,
    as_of: date,
    until: date | None,
    risk: float,
) -> WorkJob:
    """until : the day of the list, None in a fleet without bookings.  risk : the accepted one."""
    waits = until is not None and (row.next_ride is None or row.next_ride > until)
    changed = oil_is_changed(row, change=change, accepted_risk=risk)
    line = WorkLine(
        name=row.name,
        anchor=anchor(row.name),
        site=row.site or "",
        place=row.location,
        rider=row.rider or "",
        word=INSPECT if signs else change or DUE,
        task=task_text(row, signs=signs, change=change, as_of=as_of, accepted_risk=risk),
        why=why_text(row),
        oil=row.oil_text,
        amount=amount_text(amount) if changed else f"if changed: {amount_text(amount)}",
        parts=in_short(parts),
    )
    day = row.act_by if change == BEFORE else row.next_ride or (date.max if waits else as_of)
    machine, position = row.machine or "", row.position or ""
    job = WorkJob(line, day or as_of, machine, position, row.oil_grade, amount.litres, changed, waits)
    job = _with_note(job, TURNED if row.turned else "")
    return _with_note(job, row.ride_text(as_of) if waits else "")


def _with_note(job: WorkJob, note: str) -> WorkJob:
    """The job with one more thing to know beside why; unchanged where that is empty."""
    return replace(job, line=replace(job.line, why=f"{job.line.why}; {note}")) if note else job


def _with_other_legs(
    jobs: Sequence[WorkJob], rows: Sequence[ServiceRow], partners: Mapping[str, str], *, as_of: date
) -> list[WorkJob]:
    """The jobs, each with when the other leg of its fork is due where that is not on the list."""
    on_list = {job.line.name for job in jobs}
    by_name = {row.name: row for row in rows}
    with_legs = []
    for job in jobs:
        other = by_name.get(partners.get(job.line.name, ""))
        note = ""
        if other is not None and other.name not in on_list:
            soon = other.act_by is not None and other.act_by <= as_of + timedelta(days=AHEAD_DAYS)
            due = "due now by estimated hours" if other.due_now else f"due {other.due_text(as_of)}"
            note = f"the other leg, {other.name}, is {due}{': do both in one visit?' if soon else ''}"
        with_legs.append(_with_note(job, note))
    return with_legs


def _silence(fresh: Freshness, estimated: int) -> tuple[str, ...]:
    """That units are not listed because the log may be out of date."""
    if not estimated:
        return ()
    units, are = wording.counted(estimated, "unit"), wording.plural(estimated, "is", many="are")
    return (f"{fresh.question} {units} that {are} due by estimated hours {are} not listed: treat as due.",)


def _held_back_past_limit(result: PlanResult, rows: Sequence[ServiceRow], names: UnitNames) -> tuple[str, ...]:
    """That drains which might shorten an interval are held back."""
    limits = {channel.high: result.settings.limit_rating(channel.name) for channel in CHANNELS}
    units = units_held_back_past_limit(result.log.legible.get("drains"), result.described.drains, limits)
    shown = {row.name for row in rows}.intersection(names.of(*key) for key in units.iter_rows())
    if not shown:
        return ()
    named = wording.first_few([row.name for row in rows if row.name in shown], MOST_NAMED)
    return (f"Held back, though perhaps past the limit: {named}. Until corrected, intervals may be too long.",)


def _oil(jobs: Sequence[WorkJob]) -> str:
    """Oil to have ready, by site and grade, for the changes on the list; empty without a unit in service on it."""
    poured = oil_by_site((job.line.site, job.oil, job.litres) for job in jobs if job.oil_changed)
    return f"Oil for the changes on this list: {poured or 'none'}." if any(job.line.anchor for job in jobs) else ""


def _notes(jobs: Sequence[WorkJob], shown_note: str) -> tuple[str, ...]:
    notes = [shown_note] if shown_note else []
    if jobs and not any(job.line.parts for job in jobs):
        notes.append("No part is known to be due: that is no finding that parts are sound.")
    return tuple(notes)
