"""The next ride: on which machines work is due before it, and on which none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService
from draincurve.reports.content.sections.work_order import natural
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.work_text import BEFORE

MOST_NAMED = 12
"""Machines and units named in one sentence; of more, only how many they are."""
LOOK = "No work due does not mean fit: look at every unit before it rides."


@dataclass(frozen=True, slots=True)
class _Unit:
    """One unit as the sentence names it; machine : empty where it is not known."""

    name: str
    machine: str
    in_service: bool = True


def next_ride_text(
    rows: Sequence[ServiceRow],
    words: Mapping[str, str],
    *,
    as_of: date,
    until: date,
    unkept: Sequence[BookedOutOfService] = (),
) -> str:
    """Sentences on the next booked day, or on the days up to `until` in a fleet without bookings.

    A machine rides with all its units, so it is free of work only if each of them is. A ride of today is the next one
    until the usage shows that day.  words : of the units on the work list, by name; a unit that is due by the day of
    the ride is asked for too.  unkept : units that are booked and not in service.
    """
    if not rows:
        return ""
    machine_of = _machines(rows, unkept)
    if not rows[0].rides_booked:
        until_text = wording.weekday(until, as_of)
        return f"No ride is booked. {_without_bookings(rows, words, machine_of, until=until_text)} {LOOK}"
    day = min((row.next_ride for row in rows if row.next_ride is not None), default=None)
    if day is None:
        return ""
    booked = [row.name for row in rows if row.next_ride == day]
    missing = [unit.name for unit in unkept if day in unit.days]
    machines = {machine_of[name] for name in (*booked, *missing)} - {""}
    riding = [row for row in rows if row.name in booked or machine_of[row.name] in machines]
    free = [row.name for row in riding if row.name not in words and row.act_by is not None and row.act_by > day]
    due = [_Unit(row.name, machine_of[row.name]) for row in riding if row.name not in free]
    due += [_Unit(f"{name}, not in service", machine_of[name], in_service=False) for name in missing]
    ride = "Ride today" if day == as_of else "Next ride"
    count = wording.counted(len(booked) + len(missing), "unit")
    none = _wholly_free(free, due, machine_of)
    said = f"See to {_with_units(due)} before it" if due else f"No work is due before it on {none}"
    also = f"; nothing is due on {none}" if due and none else ""
    return f"{ride}: {wording.weekday(day, as_of)}, {count} booked. {said}{also}. {LOOK}"


def _without_bookings(
    rows: Sequence[ServiceRow], words: Mapping[str, str], machine_of: Mapping[str, str], *, until: str
) -> str:
    """What is due now, what by the last day of the list, and on which machines and units nothing is."""
    units = {row.name: _Unit(row.name, machine_of[row.name]) for row in rows}
    now = [unit for name, unit in units.items() if words.get(name, BEFORE) != BEFORE]
    later = [unit for name, unit in units.items() if words.get(name) == BEFORE]
    none = _wholly_free([name for name in units if name not in words], [*now, *later], machine_of)
    if not now and not later:
        return f"No work is due by {until} on {none}."
    due = [f"{when} on {_with_units(some)}" for when, some in (("now", now), ("within a week", later)) if some]
    return f"Work is due {'; '.join(due)}{f'; none on {none}' if none else ''}."


def _machines(rows: Sequence[ServiceRow], unkept: Sequence[BookedOutOfService]) -> dict[str, str]:
    """Each unit's machine, with its site where two sites have a machine of that name; empty where not known."""
    units: list[ServiceRow | BookedOutOfService] = [*rows, *unkept]
    places = [(unit.name, unit.machine or "", unit.site or "site not known") for unit in units]
    sites: dict[str, set[str]] = {}
    for _, machine, site in places:
        sites.setdefault(machine, set()).add(site)
    return {
        name: f"{machine} at {site}" if machine and len(sites[machine]) > 1 else machine
        for name, machine, site in places
    }


def _with_units(units: Sequence[_Unit]) -> str:
    """Machines with the units on them in brackets, then units without a machine."""
    on_machine: dict[str, list[str]] = {}
    for unit in sorted(units, key=lambda unit: natural(unit.name)):
        on_machine.setdefault(unit.machine, []).append(unit.name)
    alone = on_machine.pop("", [])
    named = [f"{machine} ({wording.listed(on_machine[machine])})" for machine in sorted(on_machine, key=natural)]
    on_machines = sum(unit.in_service for unit in units if unit.machine)
    return _names_or_counts(named, alone, on_machines=on_machines)


def _wholly_free(free: Iterable[str], due: Sequence[_Unit], machine_of: Mapping[str, str]) -> str:
    """Machines on which no unit has work due, then such units without a machine; empty without one."""
    busy, free = {unit.machine for unit in due}, list(free)
    machines = {machine_of[name] for name in free} - busy - {""}
    alone = [name for name in free if not machine_of[name]]
    return _names_or_counts(sorted(machines, key=natural), sorted(alone, key=natural))


def _names_or_counts(machines: Sequence[str], units: Sequence[str], *, on_machines: int = 0) -> str:
    """The names, or of many only how many; on_machines : units on these machines, said with their number."""
    if len(machines) + len(units) <= MOST_NAMED:
        return wording.listed([*machines, *units])
    their_units = f" ({wording.counted(on_machines, 'unit')})" if on_machines else ""
    counts = ((machines, "machine", their_units), (units, "more unit" if machines else "unit", ""))
    return wording.listed([f"{wording.counted(len(some), word)}{more}" for some, word, more in counts if some])
