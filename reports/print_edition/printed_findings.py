"""Sections that the page and the printed edition share, with units pointing only at sections that are printed."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace
from typing import Any

from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.legs_section import LegRow, LegsSection
from draincurve.reports.content.sections.turned_section import TurnedLine
from draincurve.reports.content.sections.wear_section import WearSection
from draincurve.reports.print_edition.first_page import known


def findings(content: ReportContent, printed: Container[str]) -> dict[str, Any]:
    """Sections on findings over the fleet; printed : anchors of units that have a section to point at."""
    volume = content.volume
    return {
        "next_samples": [replace(row, anchor=known(row.anchor, printed)) for row in content.next_samples],
        "forecast": content.forecast,
        "wear": None if content.wear is None else _wear(content.wear, printed),
        "turned": {
            "lines": [_turned(line, printed) for line in content.turned.lines],
            "pictures": content.turned.pictures,
            "sentences": content.turned.sentences,
        },
        "legs": None if content.legs is None else _legs(content.legs, printed),
        "volume": None
        if volume is None
        else replace(volume, rows=tuple(replace(row, anchor=known(row.anchor, printed)) for row in volume.rows)),
        "raters": content.raters,
        "springs": content.springs,
        "oils": content.oils,
        "backtest": content.backtest,
        "links": content.links,
    }


def _wear(section: WearSection, printed: Container[str]) -> WearSection:
    channels = tuple(
        replace(channel, rows=tuple(replace(row, anchor=known(row.anchor, printed)) for row in channel.rows))
        for channel in section.channels
    )
    return replace(section, channels=channels)


def _turned(line: TurnedLine, printed: Container[str]) -> dict[str, Any]:
    return {
        "name": line.name,
        "anchor": known(line.anchor, printed),
        "in_service": bool(line.anchor),
        "channel": line.channel,
        "since": line.since,
        "signalled": line.signalled,
    }


def _legs(section: LegsSection, printed: Container[str]) -> dict[str, Any]:
    def pair(row: LegRow) -> dict[str, Any]:
        return {
            "machine": row.machine,
            "left": {"name": row.left, "anchor": known(row.left_anchor, printed)},
            "right": {"name": row.right, "anchor": known(row.right_anchor, printed)},
            "ratio": row.ratio,
            "verdict": row.verdict,
            "why": row.why,
            "late": row.late,
        }

    return {
        "rows": [pair(row) for row in section.rows],
        "swaps": section.swaps,
        "sentences": section.sentences,
    }
