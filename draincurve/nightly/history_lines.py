"""The history of one unit over the nightly runs, and the trend of every unit, as tables of text."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from datetime import date

from draincurve.nightly.ledger_queries import CoursePoint, Trend
from draincurve.nightly.report_facts import UnitFacts
from draincurve.schemas.errors import DraincurveError
from draincurve.schemas.shown_text import shown

UNKNOWN = "-"


class UnknownUnitError(DraincurveError):
    """A unit that is in no report."""


def course_lines(unit_id: str, course: Sequence[CoursePoint], *, known: Sequence[str]) -> list[str]:
    """One line for each report on the unit, oldest first. Raises UnknownUnitError for a unit in no report.

    known : every unit in the ledger
    """
    if not course:
        near = difflib.get_close_matches(unit_id, known, n=3, cutoff=0.5)
        hint = f"did you mean {' or '.join(near)}?" if near else f"the ledger knows {len(known)} units"
        raise UnknownUnitError(f"unit {unit_id!r} is in no report of this ledger; {hint}")
    head = ("as of", "site", "interval h", "5 % to 95 %", "set by", "standing", "hours on oil", "due")
    return _table(head, [_point(point.as_of, point.unit) for point in course])


def trend_lines(trends: Sequence[Trend]) -> list[str]:
    """One line for each unit of the last report: its first and last interval, and the difference."""
    if not trends:
        return ["no report yet"]
    head = ("unit", "site", "reports", "from", "interval h", "to", "interval h", "moved h", "shortest", "longest")
    return _table(head, [_trend(trend) for trend in trends])


def _point(as_of: date, unit: UnitFacts) -> tuple[str, ...]:
    known = unit.interval_low_h is not None and unit.interval_high_h is not None
    return (
        as_of.isoformat(),
        unit.site or UNKNOWN,
        _number(unit.interval_h),
        f"{_number(unit.interval_low_h)} to {_number(unit.interval_high_h)}" if known else UNKNOWN,
        (unit.set_by or UNKNOWN).replace("_", " "),
        f"{unit.standing}, turned" if unit.turned else unit.standing,
        _number(unit.hours_on_oil),
        _due(as_of, unit),
    )


def _due(as_of: date, unit: UnitFacts) -> str:
    if unit.due_now(as_of):
        return "due now"
    days = [day for day in (unit.due_on, unit.due_before) if day is not None]
    return min(days).isoformat() if days else "no date known"


def _trend(trend: Trend) -> tuple[str, ...]:
    moved = trend.difference_h
    return (
        trend.unit_id,
        trend.site or UNKNOWN,
        str(trend.reports),
        trend.first_on.isoformat(),
        _number(trend.first_h),
        trend.last_on.isoformat(),
        _number(trend.last_h),
        UNKNOWN if moved is None else f"{moved:+.1f}",
        _number(trend.shortest_h),
        _number(trend.longest_h),
    )


def _number(value: float | None) -> str:
    return UNKNOWN if value is None else f"{value:.1f}"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Columns as wide as their widest cell, two spaces apart."""
    cells = [[shown(cell) for cell in row] for row in (head, *rows)]
    widths = [max(len(row[index]) for row in cells) for index in range(len(head))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells]
