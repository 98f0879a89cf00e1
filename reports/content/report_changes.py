"""Types for what changed since an earlier report: unit by unit, table by table, and all of it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date


@dataclass(frozen=True, slots=True)
class UnitName:
    """A unit as the tables name it; several sites may have the same unit_id."""

    unit_id: str
    site: str | None


@dataclass(frozen=True, slots=True)
class DueChange:
    """A unit that became due, or no longer is; hours_left : now [h]."""

    unit: UnitName
    due_on_before: date | None
    due_on_now: date | None
    hours_left: float | None


@dataclass(frozen=True, slots=True)
class SignsChange:
    """Signs that mean "inspect now" and are new, or that no longer count; for example "milky, leak"."""

    unit: UnitName
    signs: str


@dataclass(frozen=True, slots=True)
class StandingChange:
    """A unit whose standing changed; before, now : values of the column `standing`."""

    unit: UnitName
    before: str
    now: str


@dataclass(frozen=True, slots=True)
class IntervalChange:
    """An interval that got longer or shorter by more than rounding [h]; None without an interval."""

    unit: UnitName
    before_h: float | None
    now_h: float | None
    set_by_before: str | None
    set_by_now: str | None

    @property
    def difference_h(self) -> float | None:
        """Hours gained, negative if lost; None if one of the two is missing."""
        return None if self.before_h is None or self.now_h is None else self.now_h - self.before_h


@dataclass(frozen=True, slots=True)
class HeldBackRow:
    """A row that was not used, as in held_back.csv; row : the row as it came, in one line of text."""

    source: str
    line: int
    column: str | None
    value: str | None
    reason: str
    row: str


@dataclass(frozen=True, slots=True)
class ShrunkTable:
    """A table with fewer rows than before, although rows are only ever added; 0 rows : the table is gone."""

    table: str
    source: str
    read_before: int
    read_now: int

    @property
    def text(self) -> str:
        """The warning in words."""
        lost = self.read_before - self.read_now
        if self.read_now == 0:
            return f"{self.table} ({self.source}): the table is gone; it had {self.read_before} rows before"
        return (
            f"{self.table} ({self.source}): {lost} {'row' if lost == 1 else 'rows'} fewer than before "
            f"({self.read_before} then, {self.read_now} now); look for rows that were deleted or a file that was cut"
        )


@dataclass(frozen=True, slots=True)
class FewerDrains:
    """A unit with fewer accepted drains than before, even if the table as a whole has grown."""

    unit: UnitName
    before: int
    now: int


@dataclass(frozen=True, slots=True)
class ReportChanges:
    """Everything that differs from the report of `since`, the most urgent first; units in order of their names.

    since, as_of : days of the two reports; as_of is the earlier one if somebody asked for a day in the past.
    shrunk, fewer_drains : rows that are missing.  newly_inspect : signs that were not there before.
    no_longer_inspect : signs that were there and do not count now.
    newly_turned : units that turned.  newly_faster, newly_slower, no_longer_called : units whose standing changed.
    intervals : longer or shorter by more than one step of rounding, new, or lost.  intervals_by_a_step : how many
    others differ.
    newly_held_back : compared by content, so a row that only moved to another line is not new.
    no_longer_held_back : how many rows are used again.
    settings_changed, versions_changed : names of what else differs and may move an interval by itself.
    """

    since: date
    as_of: date
    shrunk: tuple[ShrunkTable, ...] = ()
    fewer_drains: tuple[FewerDrains, ...] = ()
    newly_inspect: tuple[SignsChange, ...] = ()
    no_longer_inspect: tuple[SignsChange, ...] = ()
    newly_due: tuple[DueChange, ...] = ()
    no_longer_due: tuple[DueChange, ...] = ()
    newly_faster: tuple[StandingChange, ...] = ()
    newly_slower: tuple[StandingChange, ...] = ()
    no_longer_called: tuple[StandingChange, ...] = ()
    newly_turned: tuple[UnitName, ...] = ()
    intervals: tuple[IntervalChange, ...] = ()
    intervals_by_a_step: int = 0
    new_units: tuple[UnitName, ...] = ()
    gone_units: tuple[UnitName, ...] = ()
    newly_held_back: tuple[HeldBackRow, ...] = ()
    no_longer_held_back: int = 0
    settings_changed: tuple[str, ...] = ()
    versions_changed: tuple[str, ...] = ()

    @property
    def counts(self) -> dict[str, int]:
        """How many changes of each kind, in the order of the fields."""
        counts = {item.name: getattr(self, item.name) for item in fields(self) if item.name not in ("since", "as_of")}
        return {name: value if isinstance(value, int) else len(value) for name, value in counts.items()}
