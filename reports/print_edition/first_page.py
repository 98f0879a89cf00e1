"""The first page and the table of all units as values for the templates, every number in words."""

from __future__ import annotations

from collections.abc import Container
from datetime import date
from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.change_lines import ChangeList
from draincurve.reports.content.first_screen import StandingLine
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.service_rows import FASTER, SLOWER, ServiceRow


def first_page(content: ReportContent, printed: Container[str]) -> dict[str, Any]:
    """The first screen; printed : anchors of units that have a section to point at."""
    first = content.first
    return {
        "headline": first.headline,
        "inspect": [
            {"name": line.name, "anchor": known(line.anchor, printed), "signs": line.signs, "seen_on": line.seen_on}
            for line in first.inspect
        ],
        "due": [
            {
                "name": line.row.name,
                "anchor": known(line.row.anchor, printed),
                "when": line.when,
                "away": line.away,
                "inspect": line.inspect,
                "detail": _due_detail(line.row, line.left, content.many_sites),
            }
            for line in first.due
        ],
        "due_more": f"{first.due_more} more within two weeks or without a date. " if first.due_more else "",
        "faster": [_faster(line, printed, content.result.settings.standing.ratio) for line in first.faster],
        "others": _others(content),
        "changes": None if first.changes is None else _changes(first.changes, printed),
        "trust": [{"subject": line.subject, "text": line.text, "doubt": line.doubt} for line in first.trust],
    }


def row_values(row: ServiceRow, as_of: date, printed: Container[str]) -> dict[str, Any]:
    """One unit of the table of all units."""
    return {
        "name": row.name,
        "anchor": known(row.anchor, printed),
        "place": ", ".join(part for part in (row.place_words, row.site) if part),
        "due": row.due_words(as_of),
        "due_now": row.due_now,
        "span": "" if row.due_now else wording.day_range(row.due_on_early, row.due_on_late, as_of),
        "left": _tenths(row.hours_left),
        "set_by": row.set_by_words,
        "on_oil": _tenths(row.hours_on_oil),
        "basis": "estimated" if row.estimated and row.hours_on_oil is not None else "",
        "interval": _tenths(row.interval_h),
        "range": wording.hours_range(row.interval_low_h, row.interval_high_h),
        "risk": wording.percent(row.risk_now),
        "ratio": wording.ratio(row.hours_ratio, None, None),
        "ratio_range": _ratio_range(row),
        "standing": row.standing,
        "called": row.standing in (FASTER, SLOWER),
        "turned": "turned: it has changed" if row.turned else "",
        "drains": row.drains,
        "spring": row.spring_type or "spring not known",
        "runs": f"{row.oil_grade or 'oil not known'} · {row.rider or 'rider not known'}",
    }


def known(anchor: str | None, printed: Container[str]) -> str:
    """The anchor where the edition has that section, else nothing to point at."""
    return anchor if anchor is not None and anchor in printed else ""


def _tenths(value: float | None) -> str:
    return wording.UNKNOWN if value is None else f"{value:.1f}"


def _ratio_range(row: ServiceRow) -> str:
    if row.hours_ratio_low is None or row.hours_ratio_high is None:
        return ""
    return f"{wording.short_number(row.hours_ratio_low)} to {wording.short_number(row.hours_ratio_high)}"


def _due_detail(row: ServiceRow, left: str, many_sites: bool) -> str:
    estimated = ", hours estimated" if row.estimated and row.hours_left is not None else ""
    site = f" · {row.site}" if many_sites and row.site else ""
    return f"{left}, set by {row.set_by_words}{estimated}{site}"


def _faster(line: StandingLine, printed: Container[str], ratio: float) -> dict[str, Any]:
    chance = (
        "" if line.row.p_faster is None else f" Chance of {ratio}x or less: {wording.percent(line.row.p_faster)}."
    )
    return {
        "name": line.row.name,
        "anchor": known(line.row.anchor, printed),
        "ratio": line.row.ratio_words,
        "details": [f"{line.evidence}{chance}".strip()],
    }


def _others(content: ReportContent) -> str:
    first = content.first
    said = []
    if first.faster_more:
        said.append(f"{first.faster_more} more are in the table.")
    if first.slower:
        said.append(f"Slower than the fleet: {', '.join(row.name for row in first.slower)}.")
    if first.too_few:
        said.append(f"Too few drains to say: {wording.counted(first.too_few, 'unit')}.")
    return " ".join(said)


def _changes(changes: ChangeList, printed: Container[str]) -> dict[str, Any]:
    return {
        "since": changes.since,
        "lines": [
            {
                "label": line.label,
                "units": [
                    {"name": unit.name, "anchor": known(unit.anchor, printed), "detail": unit.detail}
                    for unit in line.units
                ],
                "more": line.more,
                "text": line.text,
                "loud": line.loud,
            }
            for line in changes.lines
        ],
    }
