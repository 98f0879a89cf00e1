"""The first page as values for the templates, every number in words."""

from __future__ import annotations

from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.first_screen import DueLine, InspectLine, StandingLine
from draincurve.reports.content.ratio_text import TYPICAL
from draincurve.reports.content.report_content import ReportContent


def first_page(content: ReportContent) -> dict[str, Any]:
    """The first screen, laid out for paper."""
    first = content.first
    return {
        "headline": first.headline,
        "outdated_text": first.outdated_text,
        "unkept": first.unkept,
        "inspect": [_inspect(line) for line in first.inspect],
        "due": [_due(line) for line in first.due],
        "due_more": f"{first.due_more} " if first.due_more else "",
        "faster": [_faster(line) for line in first.faster],
        "others": _others(content),
        "changes": first.changes,
        "trust": first.trust,
    }


def _inspect(line: InspectLine) -> dict[str, Any]:
    return {
        "name": line.name,
        "anchor": line.anchor,
        "in_service": line.in_service,
        "signs": line.signs,
        "seen_on": line.seen_on,
        "detail": line.place_and_rides,
    }


def _due(line: DueLine) -> dict[str, Any]:
    return {
        "name": line.row.name,
        "anchor": line.row.anchor,
        "when": line.when,
        "away": line.away,
        "inspect": line.inspect,
        "detail": f"{line.detail} · {line.site}" if line.site else line.detail,
    }


def _faster(line: StandingLine) -> dict[str, Any]:
    return {
        "name": line.row.name,
        "anchor": line.row.anchor,
        "lasts": line.text,
        "details": [line.evidence],
    }


def _others(content: ReportContent) -> str:
    """Units that are not listed among the faster ones."""
    first = content.first
    sentences = [f"Measured against {TYPICAL}."] if first.faster else []
    if first.faster_more:
        sentences.append(f"{first.faster_more} more are in the table.")
    if first.slower:
        sentences.append(f"Slower than the fleet: {', '.join(row.name for row in first.slower)}.")
    if first.too_few:
        sentences.append(f"Too few drains to say: {wording.counted(first.too_few, 'unit')}.")
    return " ".join(sentences)
