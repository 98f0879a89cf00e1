"""The history of one unit over the nightly runs, its wear and parts, and every unit's trend, as tables of text."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from datetime import date
from typing import Any

from draincurve.nightly.ledger_queries import HistoryPoint, Trend
from draincurve.nightly.report_facts import UnitFacts
from draincurve.nightly.wear_and_parts import PartPoint, WearFacts, WearPoint
from draincurve.schemas.errors import DraincurveError
from draincurve.schemas.shown_text import shown

UNKNOWN = "-"
BEYOND = "beyond readings"
"""Hours at which no part or oil was measured, so nothing is known of them."""

WEAR_NOTE = (
    "hours allowed: from the fill on, until a reading past the limit has the accepted chance, which comes before the "
    f"line meets the limit; they end where no unit has readings ({BEYOND})."
)
PARTS_NOTE = (
    "by wear, a part has the hours allowed above. 10 % to 90 %: of the day, where the riding to come is not known."
)


class UnknownUnitError(DraincurveError):
    """A unit that is in no report."""


def unit_history_lines(unit_id: str, history: Sequence[HistoryPoint], *, known: Sequence[str]) -> list[str]:
    """One line for each report on the unit, oldest first. Raises UnknownUnitError for a unit in no report.

    known : every unit in the ledger
    """
    if not history:
        near = difflib.get_close_matches(unit_id, known, n=3, cutoff=0.5)
        hint = f"did you mean {' or '.join(near)}?" if near else f"the ledger knows {len(known)} units"
        raise UnknownUnitError(f"unit {unit_id!r} is in no report of this ledger; {hint}")
    head = (
        "as of",
        "site",
        "inspect",
        "oil due",
        "interval h",
        "oil alone 5 % to 95 %",
        "set by",
        "standing",
        "hours on oil",
    )
    return _table(head, [_point(point) for point in history])


def wear_lines(history: Sequence[WearPoint]) -> list[str]:
    """One line for each report on each measured quantity, with the hours at which its line meets the limit."""
    if not history:
        return []
    head = ("as of", "site", "measured", "latest", "limit", "clock", "hours at fill", "meets limit at h",
            "5 % to 95 %", "hours allowed")  # fmt: skip
    return ["", *_table(head, [_wear(point) for point in history]), WEAR_NOTE]


def parts_lines(history: Sequence[PartPoint]) -> list[str]:
    """One line for each report on each part with a life, with the day on which it is due."""
    if not history:
        return []
    head = ("as of", "site", "part", "hours on it", "hours left", "set by", "due", "10 % to 90 %", "visit")
    return ["", *_table(head, [_part(point) for point in history]), PARTS_NOTE]


def last_run_lines(last_run: dict[str, Any] | None, *, good: bool) -> list[str]:
    """A caution where the last run left no report, so that the lines above are older than they seem."""
    if last_run is None or good:
        return []
    return [
        "",
        f"caution: the last run ({last_run['started']}) left no report, {last_run['status']}: {last_run['message']}",
    ]


def trend_lines(trends: Sequence[Trend]) -> list[str]:
    """One line for each unit of the last report: its first and last interval, and the difference."""
    if not trends:
        return ["no report yet"]
    head = ("unit", "site", "reports", "from", "interval h", "to", "interval h", "moved h", "shortest", "longest")
    return _table(head, [_trend(trend) for trend in trends])


def _point(point: HistoryPoint) -> tuple[str, ...]:
    as_of, unit = point.as_of, point.unit
    known = unit.interval_low_h is not None and unit.interval_high_h is not None
    return (
        as_of.isoformat(),
        unit.site or UNKNOWN,
        point.signs or UNKNOWN,
        _due(as_of, unit),
        _number(unit.interval_h),
        f"{_number(unit.interval_low_h)} to {_number(unit.interval_high_h)}" if known else UNKNOWN,
        (unit.set_by or UNKNOWN).replace("_", " "),
        f"{unit.standing}, turned" if unit.turned else unit.standing,
        _number(unit.hours_on_oil),
    )


def _due(as_of: date, unit: UnitFacts) -> str:
    if unit.due_now(as_of):
        return "due now"
    days = [day for day in (unit.due_on, unit.due_before) if day is not None]
    return min(days).isoformat() if days else "no date known"


def _wear(point: WearPoint) -> tuple[str, ...]:
    wear = point.wear
    sign = {"under": "<", "over": ">"}.get(wear.last_bound or "", "")
    latest = UNKNOWN if wear.last_value is None else f"{sign}{wear.last_value:.3g} {wear.unit}"
    return (
        point.as_of.isoformat(),
        wear.site or UNKNOWN,
        wear.quantity,
        f"{latest}, past the limit" if wear.past_limit else latest,
        wear.limit or UNKNOWN,
        wear.clock,
        _number(wear.clock_now),
        *_crossing(wear),
        _number(wear.allowed_h),
    )


def _crossing(wear: WearFacts) -> tuple[str, str]:
    """Hours at which the line meets the limit, and their range, as far as hours were measured."""
    low, middle, high = (
        BEYOND if hours is None else _number(hours) for hours in (wear.meets_low_h, wear.meets_h, wear.meets_high_h)
    )
    if wear.limit is None or wear.allowed_h is None:
        return UNKNOWN, UNKNOWN
    return middle, BEYOND if low == BEYOND else f"{low} to {high}"


def _part(point: PartPoint) -> tuple[str, ...]:
    part = point.part
    days = [day for day in (part.due_on, part.due_before) if day is not None]
    due = min(days).isoformat() if days else "no date known"
    return (
        point.as_of.isoformat(),
        part.site or UNKNOWN,
        part.part,
        _number(part.hours_now),
        _number(part.hours_left),
        part.set_by or UNKNOWN,
        "due now" if days and min(days) <= point.as_of else due,
        _days(part.due_on_early, part.due_on_late),
        _day(part.visit_on),
    )


def _days(first: date | None, last: date | None) -> str:
    """A range of days; one day where every riding that is likely ends on the same one."""
    return _day(first) if first == last else f"{_day(first)} to {_day(last)}"


def _day(day: date | None) -> str:
    return UNKNOWN if day is None else day.isoformat()


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
