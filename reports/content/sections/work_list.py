"""The work list: what to do to which unit before the next ride, in the order in which a workshop walks."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.describing import fill_volumes
from draincurve.pipeline.report import Report
from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import SOON_DAYS
from draincurve.reports.content.part_findings import PartFinding, in_short, units_with_parts_due
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.unit_names import UnitNames, anchor
from draincurve.reports.content.work_words import (
    BEFORE,
    DUE,
    INSPECT,
    MEANINGS,
    Amount,
    amount_words,
    task_words,
    why_words,
)

_LEGS = ("left", "right", "front", "rear")
MOST_LATER = 12
"""Units named that come after the list; the others are counted."""


@dataclass(frozen=True, slots=True)
class WorkLine:
    """One unit's work, in words; anchor : of its section, empty for a unit that is not in service.

    word : inspect, due or before the next ride.  amount : of oil, with its source.  parts : may be empty.
    """

    name: str
    anchor: str
    site: str
    place: str
    word: str
    task: str
    why: str
    oil: str
    amount: str
    parts: str


@dataclass(frozen=True, slots=True)
class WorkSite:
    """The lines of one site, machine by machine; name : empty where the whole list is of one place."""

    name: str
    lines: tuple[WorkLine, ...]


@dataclass(frozen=True, slots=True)
class WorkList:
    """What to do for one day or one booking.

    meanings : what each word asks for, the most urgent first.  oil : what to have ready.  later : what comes after.
    notes : what the list does not know.
    """

    title: str
    meanings: tuple[tuple[str, str], ...]
    sites: tuple[WorkSite, ...]
    oil: str
    later: str
    notes: tuple[str, ...]

    @property
    def lines(self) -> tuple[WorkLine, ...]:
        """All lines, site by site."""
        return tuple(line for site in self.sites for line in site.lines)


@dataclass(frozen=True, slots=True)
class _Job:
    """One line with what it is sorted by and what of oil it takes."""

    line: WorkLine
    machine: str
    position: str
    oil: str | None
    litres: float | None


def work_list(
    result: Report,
    rows: Sequence[ServiceRow],
    *,
    names: UnitNames,
    parts: Mapping[str, Sequence[PartFinding]],
    shown_note: str = "",
) -> WorkList:
    """The list up to the next booked day of each site, or over SOON_DAYS where nothing nearer is booked.

    rows : units in service, soonest due first.  parts : findings by unit.  shown_note : which units are listed.
    """
    until = _last_days(result, rows)
    signs, elsewhere = _signs(result, rows, names=names)
    amounts, due_parts = _amounts(result), units_with_parts_due(result)
    jobs, later = [*elsewhere], []
    for row in rows:
        change, sign = _change(row, until=until[row.site]), signs.get(row.name, "")
        if change or sign or row.name in due_parts:
            amount = amounts.get(row.name, Amount(None, None))
            jobs.append(_job(row, change, sign, amount, parts.get(row.name, ()), as_of=result.as_of))
        elif row.act_by is not None and row.act_by <= result.as_of + timedelta(days=SOON_DAYS):
            later.append(row)
    return WorkList(
        title=_title(len(jobs), set(until.values()), as_of=result.as_of),
        meanings=MEANINGS,
        sites=_sites(jobs),
        oil=_oil(jobs),
        later=_later(later, as_of=result.as_of),
        notes=_notes(jobs, shown_note),
    )


def _last_days(result: Report, rows: Sequence[ServiceRow]) -> dict[str | None, date]:
    """The day up to which each site's list goes: its next booked day after today, at most SOON_DAYS ahead."""
    booked: dict[str, date] = {}
    bookings = result.described.bookings
    if bookings is not None and bookings.height:
        ahead = bookings.filter(pl.col("date") > result.as_of, pl.col("hours").fill_null(1.0) > 0)
        nearest = ahead.group_by(pl.col("unit_key").cast(pl.String)).agg(pl.col("date").min())
        booked = dict(nearest.iter_rows())
    farthest = result.as_of + timedelta(days=SOON_DAYS)
    until: dict[str | None, date] = {}
    for row in rows:
        day = min(booked.get(row.name, farthest), farthest)
        until[row.site] = min(until.get(row.site, farthest), day)
    return until


def _change(row: ServiceRow, *, until: date) -> str:
    """The word for a change of oil; empty where it can wait. Without a date it counts as due."""
    if row.due_now or row.act_by is None:
        return DUE
    return BEFORE if row.act_by <= until else ""


def _signs(
    result: Report, rows: Sequence[ServiceRow], *, names: UnitNames
) -> tuple[dict[str, str], tuple[_Job, ...]]:
    """Signs by unit, with the day they were seen, and the lines of units that are not in service."""
    in_service = {row.name for row in rows}
    signs: dict[str, str] = {}
    elsewhere = []
    for cells in result.decided.inspect_now.iter_rows(named=True):
        name = names.of(cells["unit_id"], cells["site"])
        seen = wording.day(wording.as_date(cells["drained_on"]), result.as_of)
        signs[name] = f"{cells['signs']} (seen {seen})"
        if name not in in_service:
            line = WorkLine(
                name, "", cells["site"] or "", "not in service", INSPECT,
                f"Inspect: {signs[name]}", "before it is used again", "", "", "",
            )  # fmt: skip
            elsewhere.append(_Job(line, "", "", None, 0.0))
    return signs, tuple(elsewhere)


def _amounts(result: Report) -> dict[str, Amount]:
    volumes = fill_volumes(result.described.drains, result.described.units)
    return {
        key: Amount(register, logged)
        for key, register, logged in volumes.select("unit_key", "register_ml", "logged_ml").iter_rows()
    }


def _job(
    row: ServiceRow, change: str, signs: str, amount: Amount, parts: Sequence[PartFinding], *, as_of: date
) -> _Job:
    line = WorkLine(
        name=row.name,
        anchor=anchor(row.name),
        site=row.site or "",
        place=row.location,
        word=INSPECT if signs else change or DUE,
        task=task_words(row, signs=signs, change=change, as_of=as_of),
        why=why_words(row),
        oil=row.oil_words,
        amount=amount_words(amount),
        parts=in_short(parts),
    )
    ml = amount.ml
    return _Job(line, row.machine or "", row.position or "", row.oil_grade, None if ml is None else ml / 1000.0)


def _sites(jobs: Sequence[_Job]) -> tuple[WorkSite, ...]:
    """Sites by name; in each the machine with the most urgent line first, and on it leg by leg."""
    by_site: dict[str, list[_Job]] = {}
    for job in jobs:
        by_site.setdefault(job.line.site, []).append(job)
    many = len(by_site) > 1
    return tuple(
        WorkSite((site or "site not known") if many else "", _by_machine(by_site[site]))
        for site in sorted(by_site, key=lambda name: (not name, _natural(name)))
    )


def _by_machine(jobs: Sequence[_Job]) -> tuple[WorkLine, ...]:
    words = [word for word, _ in MEANINGS]
    first: dict[str, int] = {}
    for job in jobs:
        rank = words.index(job.line.word)
        machine = job.machine or f"\n{job.line.name}"
        first[machine] = min(rank, first.get(machine, rank))
    ordered = sorted(
        jobs,
        key=lambda job: (
            first[job.machine or f"\n{job.line.name}"],
            not job.machine,
            _natural(job.machine),
            _LEGS.index(job.position) if job.position in _LEGS else len(_LEGS),
            job.position,
            _natural(job.line.name),
        ),
    )
    return tuple(job.line for job in ordered)


def _natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A name by which bike 2 comes before bike 10."""
    pieces = re.findall(r"[0-9]{1,15}|[^0-9]+|[0-9]+", text.casefold())
    return tuple((not piece.isdecimal(), int(piece) if piece.isdecimal() else 0, piece) for piece in pieces)


def _title(jobs: int, days: set[date], *, as_of: date) -> str:
    if not jobs:
        return "Nothing to do" if not days else f"Nothing to do until {_day_words(days, as_of)}"
    return f"{wording.counted(jobs, 'unit')} to see to before {_day_words(days, as_of)}"


def _day_words(days: set[date], as_of: date) -> str:
    if not days:
        return "the next ride"
    first, last = min(days), max(days)
    if first == last:
        return wording.weekday(first, as_of)
    return f"the next ride of each site ({wording.day_range(first, last, beside=as_of)})"


def _oil(jobs: Sequence[_Job]) -> str:
    """Oil to have ready, by grade; what is not known is said."""
    grades: dict[str, float] = {}
    unknown = 0
    for job in jobs:
        if job.oil is None or job.litres is None:
            unknown += job.line.anchor != ""
        else:
            grades[job.oil] = grades.get(job.oil, 0.0) + job.litres
    parts = [f"{grade} {litres:.2f} l" for grade, litres in sorted(grades.items())]
    if unknown:
        parts.append(f"for {wording.counted(unknown, 'unit')} oil or amount is not known")
    return f"Oil if all of them are changed: {', '.join(parts)}." if parts else ""


def _later(rows: Sequence[ServiceRow], *, as_of: date) -> str:
    """The units of the days after the list, day by day."""
    if not rows:
        return ""
    days: dict[str, list[str]] = {}
    for row in rows[:MOST_LATER]:
        days.setdefault(row.due_words(as_of), []).append(row.name)
    named = "; ".join(f"{when} {wording.listed(units)}" for when, units in days.items())
    more = f"; {len(rows) - MOST_LATER} more" if len(rows) > MOST_LATER else ""
    return f"After that: {named}{more}."


def _notes(jobs: Sequence[_Job], shown_note: str) -> tuple[str, ...]:
    notes = [shown_note] if shown_note else []
    if jobs and not any(job.line.parts for job in jobs):
        notes.append("No part is known to be due: that is no finding that parts are sound.")
    return tuple(notes)
