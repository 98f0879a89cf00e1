"""The lines of the work list in order of sites, machines and legs."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.work_text import MEANINGS

_LEGS = ("left", "right", "front", "rear")


@dataclass(frozen=True, slots=True)
class WorkLine:
    """One unit's work, in words; anchor : of its section, empty for a unit that is not in service.

    place : machine and position.  rider : may be empty.  word : inspect, due or before the next ride.  amount : of
    oil, with its source, and that the oil is perhaps not changed.  parts : may be empty.  again : that it needs fresh
    oil again within the week, or empty.
    """

    name: str
    anchor: str
    site: str
    place: str
    rider: str
    word: str
    task: str
    why: str
    oil: str
    amount: str
    parts: str
    again: str = ""


@dataclass(frozen=True, slots=True)
class WorkSite:
    """Lines of one site, machine by machine; name : empty where the whole list is of one place.

    Units that are not booked to ride by the day of the list are a part of their own, after those that are.
    """

    name: str
    lines: tuple[WorkLine, ...]


@dataclass(frozen=True, slots=True)
class WorkJob:
    """One line with what it is sorted by and what oil it takes.

    day : by which it is to be done, or on which the unit rides next.  oil_changed : whether the oil is.  waits : the
    unit is not booked to ride by the day of the list.
    """

    line: WorkLine
    day: date
    machine: str
    position: str
    oil: str | None
    litres: float | None
    oil_changed: bool
    waits: bool


def sites_in_order(jobs: Sequence[WorkJob], until: Mapping[str | None, date], *, as_of: date) -> tuple[WorkSite, ...]:
    """Sites by name; in each the machine with the most urgent line first, then by day, and on it leg by leg.

    until : the day of each site's list
    """
    parts: dict[tuple[str, bool], list[WorkJob]] = {}
    for job in jobs:
        parts.setdefault((job.line.site, job.waits), []).append(job)
    many = len({site for site, _ in parts}) > 1
    return tuple(
        WorkSite(
            _part_name((site or "site not known") if many else "", waits, until.get(site or None), as_of=as_of),
            _by_machine(parts[site, waits]),
        )
        for site, waits in sorted(parts, key=lambda part: (not part[0], natural(part[0]), part[1]))
    )


def _part_name(site: str, waits: bool, until: date | None, *, as_of: date) -> str:
    """The heading of one site's units, or of those of them that are not booked to ride by its day."""
    if not waits:
        return site
    words = "no ride booked" if until is None else f"no ride booked up to {wording.weekday(until, as_of)}"
    return f"{site}: {words}" if site else wording.sentence(words).rstrip(".")


def _by_machine(jobs: Sequence[WorkJob]) -> tuple[WorkLine, ...]:
    words = [word for word, _ in MEANINGS]
    first: dict[str, tuple[int, date]] = {}
    for job in jobs:
        urgency = words.index(job.line.word), job.day
        machine = job.machine or f"\n{job.line.name}"
        first[machine] = min(urgency, first.get(machine, urgency))
    ordered = sorted(
        jobs,
        key=lambda job: (
            first[job.machine or f"\n{job.line.name}"],
            not job.machine,
            natural(job.machine),
            _LEGS.index(job.position) if job.position in _LEGS else len(_LEGS),
            job.position,
            natural(job.line.name),
        ),
    )
    return tuple(job.line for job in ordered)


def natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A name by which bike 2 comes before bike 10."""
    pieces = re.findall(r"[0-9]{1,15}|[^0-9]+|[0-9]+", text.casefold())
    return tuple((not piece.isdecimal(), int(piece) if piece.isdecimal() else 0, piece) for piece in pieces)
