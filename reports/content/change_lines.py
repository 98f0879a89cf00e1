"""What changed since an earlier report, as lines of the first screen, the loudest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.report_changes import (
    DueChange,
    IntervalChange,
    ReportChanges,
    StandingChange,
    UnitName,
)
from draincurve.reports.content.unit_names import UnitNames

MOST_NAMED = 8
"""Units named in a line; the rest is counted."""


@dataclass(frozen=True, slots=True)
class ChangedUnit:
    """One unit of a line; anchor : of its section, None where it is not in service; detail : may be empty."""

    name: str
    anchor: str | None
    detail: str


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One kind of change: units, or a sentence; loud : speaks against trusting or riding on."""

    label: str
    units: tuple[ChangedUnit, ...] = ()
    more: int = 0
    text: str = ""
    loud: bool = False


@dataclass(frozen=True, slots=True)
class ChangeList:
    """All that changed; since : the day of the earlier report, in words."""

    since: str
    lines: tuple[ChangeLine, ...]


def change_list(
    changes: ReportChanges | None, in_service: frozenset[str], names: UnitNames, as_of: date
) -> ChangeList | None:
    """Lines for the first screen; None where there is no earlier report to hold this one against."""
    if changes is None:
        return None
    namer = _Namer(in_service, names, as_of)
    lines = (
        ChangeLine(
            "Rows missing", text=" ".join(wording.sentence(table.words) for table in changes.shrunk), loud=True
        ),
        namer.line(
            "Drains missing",
            [(item.unit, f"{item.before} then, {item.now} now") for item in changes.fewer_drains],
            True,
        ),
        namer.line("Inspect, new", [(item.unit, item.signs) for item in changes.newly_inspect], True),
        namer.line("Turned, new", [(unit, "") for unit in changes.newly_turned], True),
        namer.line("Due, new", [(item.unit, namer.due(item)) for item in changes.newly_due]),
        namer.line("Faster, new", [(item.unit, _was(item)) for item in changes.newly_faster]),
        namer.line("Slower, new", [(item.unit, _was(item)) for item in changes.newly_slower]),
        namer.line("No longer called", [(item.unit, _was(item)) for item in changes.no_longer_called]),
        namer.line("Interval shorter", _intervals(changes.intervals, shorter=True)),
        namer.line("Interval longer", _intervals(changes.intervals, shorter=False)),
        namer.line("No longer due", [(item.unit, "") for item in changes.no_longer_due]),
        namer.line("New units", [(unit, "") for unit in changes.new_units]),
        namer.line("Gone units", [(unit, "") for unit in changes.gone_units]),
        ChangeLine("Rows", text=_rows(changes)),
        ChangeLine("Settings", text=_settings(changes)),
    )
    said = tuple(line for line in lines if line.units or line.text)
    return ChangeList(wording.weekday(changes.since, as_of), said)


@dataclass(frozen=True, slots=True)
class _Namer:
    """Units named and linked as everywhere in the report."""

    in_service: frozenset[str]
    names: UnitNames
    as_of: date

    def line(self, label: str, found: Sequence[tuple[UnitName, str]], loud: bool = False) -> ChangeLine:
        """One line of units with their details, cut to what can be read at a glance."""
        shown = tuple(self._unit(unit, detail) for unit, detail in found[:MOST_NAMED])
        return ChangeLine(label, shown, max(0, len(found) - MOST_NAMED), loud=loud)

    def due(self, item: DueChange) -> str:
        """When a unit that became due is due."""
        return "" if item.due_on_now is None else f"by {wording.day(item.due_on_now, self.as_of)}"

    def _unit(self, unit: UnitName, detail: str) -> ChangedUnit:
        name = self.names.of(unit.unit_id, unit.site)
        return ChangedUnit(name, wording.anchor(name) if name in self.in_service else None, detail)


def _was(item: StandingChange) -> str:
    return f"was {item.before}"


def _intervals(found: Sequence[IntervalChange], shorter: bool) -> list[tuple[UnitName, str]]:
    """Shorter or lost, or longer or gained; the largest change first."""
    chosen = []
    for item in found:
        difference = item.difference_h
        lost = item.now_h is None if difference is None else difference < 0
        if lost is shorter:
            size = abs(difference) if difference is not None else float("inf")
            chosen.append((size, item.unit, f"{_hours(item.before_h)} to {_hours(item.now_h)} h"))
    chosen.sort(key=lambda entry: -entry[0])
    return [(unit, text) for _, unit, text in chosen]


def _hours(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"


def _rows(changes: ReportChanges) -> str:
    said = []
    if changes.newly_held_back:
        said.append(f"{wording.counted(len(changes.newly_held_back), 'row')} newly held back.")
    if changes.no_longer_held_back:
        said.append(f"{wording.counted(changes.no_longer_held_back, 'row')} mended.")
    return " ".join(said)


def _settings(changes: ReportChanges) -> str:
    said = []
    if changes.settings_changed:
        said.append(f"Changed: {wording.listed(list(changes.settings_changed))}; intervals may move for that alone.")
    if changes.versions_changed:
        said.append(f"Other versions of {wording.listed(list(changes.versions_changed))}.")
    return " ".join(said)
