"""Compares two reports: what changed from the earlier to the later one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

from draincurve.nightly.report_facts import ReportFacts, UnitFacts, row_content, row_counts
from draincurve.reports.content.report_changes import (
    DueChange,
    FewerDrains,
    HeldBackRow,
    IntervalChange,
    ReportChanges,
    ShrunkTable,
    SignsChange,
    StandingChange,
    UnitName,
)
from draincurve.schemas.next_service_table import FASTER, SLOWER

_SAME = 1e-6

Pair = tuple[UnitFacts | None, UnitFacts]
"""A unit in the earlier report, if it is there, and in the later one."""


def changes_between(before: ReportFacts, now: ReportFacts) -> ReportChanges:
    """What is different in `now`; units in the order of their names.

    Units are matched by unit_id, even at another site, unless several units share that unit_id.
    """
    pairs, gone = _paired(before, now)
    there = [(then, unit) for then, unit in pairs if then is not None]
    called = [
        StandingChange(unit.name, then.standing if then else "", unit.standing)
        for then, unit in pairs
        if then is None or then.standing != unit.standing
    ]
    intervals = _intervals(there, step=max(_step(before), _step(now)))
    new_rows = _new_rows(before, now)
    came_back = row_counts(before.held_back) - row_counts(now.held_back)
    return ReportChanges(
        since=before.as_of,
        as_of=now.as_of,
        shrunk=_shrunk(before, now),
        fewer_drains=()
        if now.as_of < before.as_of
        else tuple(FewerDrains(u.name, then.drains, u.drains) for then, u in there if u.drains < then.drains),
        newly_inspect=_signs_added(before.signs, now.signs),
        no_longer_inspect=_signs_added(now.signs, before.signs),
        newly_due=tuple(
            _due_change(then, unit)
            for then, unit in pairs
            if unit.due_now(now.as_of) and not (then and then.due_now(before.as_of))
        ),
        no_longer_due=tuple(
            _due_change(then, unit)
            for then, unit in there
            if then.due_now(before.as_of) and not unit.due_now(now.as_of)
        ),
        newly_faster=tuple(change for change in called if change.now == FASTER),
        newly_slower=tuple(change for change in called if change.now == SLOWER),
        no_longer_called=tuple(
            change for change in called if change.before in (FASTER, SLOWER) and change.now not in (FASTER, SLOWER)
        ),
        newly_turned=tuple(unit.name for then, unit in pairs if unit.turned and not (then and then.turned)),
        intervals=intervals,
        intervals_by_a_step=sum(then.interval_h != unit.interval_h for then, unit in there) - len(intervals),
        new_units=tuple(unit.name for then, unit in pairs if then is None),
        gone_units=gone,
        newly_held_back=new_rows,
        no_longer_held_back=came_back.total(),
        settings_changed=_different(before.settings, now.settings),
        versions_changed=_different(before.versions, now.versions),
    )


def _paired(before: ReportFacts, now: ReportFacts) -> tuple[list[Pair], tuple[UnitName, ...]]:
    """Units of the later report with their earlier facts, and units that are in the earlier one only."""
    shared = _repeated(before.units) | _repeated(now.units)

    def key(unit: UnitFacts) -> tuple[str, str | None]:
        return unit.unit_id, unit.site if unit.unit_id in shared else None

    then = {key(unit): unit for unit in before.units}
    pairs = [(then.pop(key(unit), None), unit) for unit in _ordered(now.units)]
    return pairs, tuple(unit.name for unit in _ordered(then.values()))


def _repeated(units: Iterable[UnitFacts]) -> set[str]:
    return {name for name, count in Counter(unit.unit_id for unit in units).items() if count > 1}


def _ordered(units: Iterable[UnitFacts]) -> list[UnitFacts]:
    return sorted(units, key=lambda unit: (unit.unit_id, unit.site or ""))


def _due_change(then: UnitFacts | None, unit: UnitFacts) -> DueChange:
    return DueChange(unit.name, then.due_on if then else None, unit.due_on, unit.hours_left)


def _intervals(there: list[tuple[UnitFacts, UnitFacts]], *, step: float) -> tuple[IntervalChange, ...]:
    """Intervals that differ by more than one step, the most that rounding down can cause, or that are new or gone."""
    changes = []
    for then, unit in there:
        change = IntervalChange(unit.name, then.interval_h, unit.interval_h, then.set_by, unit.set_by)
        moved = change.difference_h
        if (moved is None and then.interval_h != unit.interval_h) or (
            moved is not None and abs(moved) > step + _SAME
        ):
            changes.append(change)
    return tuple(changes)


def _step(facts: ReportFacts) -> float:
    return float(facts.settings.get("step_h", 0.0))


def _signs_added(before: Mapping[UnitName, str], now: Mapping[UnitName, str]) -> tuple[SignsChange, ...]:
    """Units with a sign in `now` that `before` lacks; a unit is its namesake at another site if there is only one."""
    changes = []
    for unit, signs in sorted(now.items(), key=lambda item: (item[0].unit_id, item[0].site or "")):
        namesakes = [name for name in before if name.unit_id == unit.unit_id]
        then = unit if unit in before or len(namesakes) != 1 else namesakes[0]
        if set(signs.split(", ")) - set(before.get(then, "").split(", ")):
            changes.append(SignsChange(unit, signs))
    return tuple(changes)


def _new_rows(before: ReportFacts, now: ReportFacts) -> tuple[HeldBackRow, ...]:
    """Rows that are newly held back, compared by content."""
    known = row_counts(before.held_back)
    new_rows = []
    for table, row in now.held_back:
        content = row_content(table, row)
        if known[content] > 0:
            known[content] -= 1
        else:
            new_rows.append(row)
    return tuple(new_rows)


def _shrunk(before: ReportFacts, now: ReportFacts) -> tuple[ShrunkTable, ...]:
    rows = {table.table: table for table in now.tables}
    return tuple(
        ShrunkTable(then.table, rows[then.table].source if then.table in rows else then.source, then.read, read)
        for then in before.tables
        if (read := rows[then.table].read if then.table in rows else 0) < then.read
    )


def _different(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(sorted(name for name in {*before, *now} if before.get(name) != now.get(name)))
