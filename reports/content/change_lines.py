"""What changed since an earlier report, as lines of the first screen, warnings first."""

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
from draincurve.reports.content.unit_names import UnitNames, anchor

MOST_NAMED = 8
"""Units named in a line; the others are counted."""


@dataclass(frozen=True, slots=True)
class ChangedUnit:
    """One unit of a line; anchor : of its section, None if it is not in service.  detail : may be empty."""

    name: str
    anchor: str | None
    detail: str


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One kind of change: units, or a sentence; warning : it is a reason not to trust the report or not to ride."""

    label: str
    units: tuple[ChangedUnit, ...] = ()
    more: int = 0
    text: str = ""
    warning: bool = False


@dataclass(frozen=True, slots=True)
class ChangeList:
    """Everything that changed; since : the day of the earlier report, in words."""

    since: str
    lines: tuple[ChangeLine, ...]


def change_list(
    changes: ReportChanges | None, names: UnitNames, *, in_service: frozenset[str], as_of: date
) -> ChangeList | None:
    """Lines for the first screen; None without an earlier report to compare with."""
    if changes is None:
        return None
    namer = _Namer(in_service, names, as_of)
    lines = (
        ChangeLine(
            "Rows missing", text=" ".join(wording.sentence(table.text) for table in changes.shrunk), warning=True
        ),
        namer.line(
            "Drains missing",
            [(item.unit, f"{item.before} then, {item.now} now") for item in changes.fewer_drains],
            warning=True,
        ),
        namer.line("Inspect, new", [(item.unit, item.signs) for item in changes.newly_inspect], warning=True),
        namer.line("Turned, new", [(unit, "") for unit in changes.newly_turned], warning=True),
        namer.line("Due, new", [(item.unit, namer.due(item)) for item in changes.newly_due]),
        namer.line("Faster, new", [(item.unit, _was(item)) for item in changes.newly_faster]),
        namer.line("Slower, new", [(item.unit, _was(item)) for item in changes.newly_slower]),
        namer.line("No longer called", [(item.unit, _was(item)) for item in changes.no_longer_called]),
        namer.line("Interval shorter", _intervals(changes.intervals, shorter=True)),
        namer.line("Interval longer", _intervals(changes.intervals, shorter=False)),
        ChangeLine("Intervals", text=_by_a_step(changes.intervals_by_a_step)),
        namer.line("Inspect, no longer", [(item.unit, f"was {item.signs}") for item in changes.no_longer_inspect]),
        namer.line("No longer due", [(item.unit, "") for item in changes.no_longer_due]),
        namer.line("New units", [(unit, "") for unit in changes.new_units]),
        namer.line("Gone units", [(unit, "") for unit in changes.gone_units]),
        ChangeLine("Rows", text=_rows(changes)),
        ChangeLine("Settings", text=_settings(changes)),
    )
    since = wording.weekday(changes.since, as_of)
    if changes.since == as_of:
        since = f"{since}, made earlier"
    return ChangeList(since, tuple(line for line in lines if line.units or line.text))


@dataclass(frozen=True, slots=True)
class _Namer:
    """Names and links units as everywhere in the report."""

    in_service: frozenset[str]
    names: UnitNames
    as_of: date

    def line(self, label: str, units: Sequence[tuple[UnitName, str]], *, warning: bool = False) -> ChangeLine:
        """One line of units with their details, at most MOST_NAMED of them."""
        shown = tuple(self._unit(unit, detail) for unit, detail in units[:MOST_NAMED])
        return ChangeLine(label, shown, max(0, len(units) - MOST_NAMED), warning=warning)

    def due(self, item: DueChange) -> str:
        """When a unit that became due is due."""
        return "" if item.due_on_now is None else f"by {wording.day(item.due_on_now, self.as_of)}"

    def _unit(self, unit: UnitName, detail: str) -> ChangedUnit:
        name = self.names.of(unit.unit_id, unit.site)
        return ChangedUnit(name, anchor(name) if name in self.in_service else None, detail)


def _was(item: StandingChange) -> str:
    return f"was {item.before}"


def _intervals(changes: Sequence[IntervalChange], *, shorter: bool) -> list[tuple[UnitName, str]]:
    """Intervals that got shorter or were lost, or that got longer or are new; the largest change first."""
    chosen = []
    for item in changes:
        difference = item.difference_h
        lost = item.now_h is None if difference is None else difference < 0
        if lost is shorter:
            size = abs(difference) if difference is not None else float("inf")
            chosen.append((size, item.unit, f"{_hours(item.before_h)} to {_hours(item.now_h)} h"))
    chosen.sort(key=lambda entry: -entry[0])
    return [(unit, text) for _, unit, text in chosen]


def _by_a_step(count: int) -> str:
    """How many intervals differ by as little as rounding can cause."""
    return f"{wording.counted(count, 'interval')} moved by a step of rounding or less." if count else ""


def _hours(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"


def _rows(changes: ReportChanges) -> str:
    sentences = []
    if changes.newly_held_back:
        sentences.append(f"{wording.counted(len(changes.newly_held_back), 'row')} newly held back.")
    if changes.no_longer_held_back:
        sentences.append(f"{wording.counted(changes.no_longer_held_back, 'row')} corrected.")
    return " ".join(sentences)


def _settings(changes: ReportChanges) -> str:
    sentences = []
    if changes.settings_changed:
        changed = wording.listed(list(changes.settings_changed))
        sentences.append(f"Changed: {changed}; intervals may move for that reason alone.")
    if changes.versions_changed:
        sentences.append(f"Other versions of {wording.listed(list(changes.versions_changed))}.")
    return " ".join(sentences)
