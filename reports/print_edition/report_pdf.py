"""report.pdf: the same content as report.html, laid out for paper."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.glossary import GLOSSARY
from draincurve.reports.content.hours_pictures import MOST_UNITS
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.section_headings import section_headings
from draincurve.reports.content.sections.unit_sections import UnitSection
from draincurve.reports.content.trade_words import (
    CAUTIONS,
    HOW_TO_LOOK,
    INSPECT_CAUTION,
    ONLY_SPRING_AND_OIL,
    SET_BY,
    SHEDS_MORE,
)
from draincurve.reports.figures.svg_picture import Picture
from draincurve.reports.print_edition.first_page import first_page
from draincurve.reports.print_edition.safe_text import plain_values, safe_text, unbroken
from draincurve.reports.print_edition.typesetting import Printed, printable_pictures, typeset
from draincurve.reports.print_edition.unit_choice import choice_text, drains_to_print, units_to_print
from draincurve.reports.print_edition.unit_values import row_values, unit_values
from draincurve.schemas.channels import CHANNELS

TEMPLATE = "report.typ"
LONGEST_LOG_NAME = 90
MOST_ROWS = 2000
"""Rows printed of each kind, about fifty pages; the rest of a bad log would fill thousands."""


def write_pdf(content: ReportContent, path: Path) -> str:
    """Write report.pdf: A4, tagged, with bookmarks; returns what could not be printed, in one sentence.

    The same content gives the same bytes, but for letters that only a machine's own fonts have.
    """
    printed = printed_report(content)
    path.write_bytes(printed.pdf)
    return printed.unprinted


def printed_report(content: ReportContent) -> Printed:
    """The printed edition of one run as PDF."""
    return typeset(TEMPLATE, edition_values(content), day=content.as_of)


def edition_values(content: ReportContent) -> dict[str, Any]:
    """Everything the printed edition says as plain values for the templates, with pictures as SVG and safe text."""
    pictures: dict[str, Picture] = {}
    units = units_to_print(content.units, as_of=content.as_of)
    values = {**_front(content), **_sections(content), **_back(content), "units": _units(content, units)}
    plain = plain_values(values, pictures)
    plain |= plain_values(_rows(content), pictures, longest=None)
    plain["title"] = unbroken(plain["title"])
    day = content.as_of
    linked: dict[str, Any] = _linked(plain, {safe_text(unit.row.anchor) for unit in units})
    as_of_date = {"year": day.year, "month": day.month, "day": day.day}
    return linked | {"pictures": printable_pictures(pictures), "as_of_date": as_of_date}


def shown_log_name(name: str) -> str:
    """The log's name as it is printed on top of each page, cut where it is very long."""
    return name if len(name) <= LONGEST_LOG_NAME else f"{name[: LONGEST_LOG_NAME - 1]}…"


def _linked(value: Any, printed: Collection[str]) -> Any:
    """The values with an empty anchor for every unit that has no printed section to link to."""
    if isinstance(value, list):
        return [_linked(item, printed) for item in value]
    if isinstance(value, dict):
        return {
            name: (item if item in printed else "") if name.endswith("anchor") else _linked(item, printed)
            for name, item in value.items()
        }
    return value


def _front(content: ReportContent) -> dict[str, Any]:
    """Head lines, first page, hours and the table of all units."""
    name = content.result.log.name
    drawn = f"The {MOST_UNITS} units due soonest are drawn; all {len(content.rows)} are in the table."
    signs = {line.name for line in content.first.inspect}
    return {
        "title": f"Next service, {wording.day(content.as_of)} · {name}",
        "log": shown_log_name(name),
        "as_of": wording.weekday(content.as_of),
        "caution": CAUTIONS[0],
        "inspect_caution": INSPECT_CAUTION,
        "first": first_page(content),
        "work": content.work,
        "unit_count": wording.counted(content.counts.units, "unit"),
        "shown_note": content.shown_note,
        "sites": [
            [site.site, *(str(count) for count in (site.units, site.now, site.ahead, site.faster, site.turned))]
            for site in content.sites[:MOST_ROWS]
        ],
        "hours": [picture.wide for picture in content.hours_pictures],
        "hours_note": drawn if len(content.rows) > MOST_UNITS else "",
        "rows": [row_values(row, as_of=content.as_of, inspect=row.name in signs) for row in content.rows],
    }


def _sections(content: ReportContent) -> dict[str, Any]:
    """Sections on the fleet, as they are on the page."""
    return {
        "headings": section_headings(content),
        "next_samples": content.next_samples,
        "forecast": content.forecast,
        "channels": content.channels,
        "wear": content.wear,
        "part_lives": content.part_lives,
        "turned": content.turned,
        "legs": content.legs,
        "volume": content.volume,
        "raters": content.raters,
        "springs": content.springs,
        "sheds_more": SHEDS_MORE,
        "oils": content.oils,
        "backtest": content.backtest,
        "links": content.links,
        "fleet_intervals": content.fleet_intervals,
        "only_spring_and_oil": ONLY_SPRING_AND_OIL,
        "set_by_meaning": [[value.label.capitalize(), value.meaning] for value in SET_BY.values()],
        "cannot_tell": content.cannot_tell,
    }


def _units(content: ReportContent, units: Sequence[UnitSection]) -> dict[str, Any]:
    """One section for each unit printed."""
    count = len(content.units)
    return {
        "sections": [unit_values(unit, drains_to_print(unit, units=count), as_of=content.as_of) for unit in units],
        "note": choice_text(units, units=count),
        "out_of_service": ", ".join(content.out_of_service),
        "channel_names": [channel.title for channel in content.channels],
    }


def _back(content: ReportContent) -> dict[str, Any]:
    """How to read ratings, settings and inputs."""
    versions = ", ".join(f"{name} {version}" for name, version in content.result.versions.items())
    return {
        "scales": [{"title": channel.title, "levels": channel.scale} for channel in CHANNELS],
        "how_to_look": HOW_TO_LOOK,
        "cautions": CAUTIONS,
        "assumptions": content.assumptions,
        "terms": GLOSSARY,
        "settings": content.settings,
        "accounts": content.result.log.accounts,
        "made_with": f"Made with {versions}." if versions else "",
    }


def _rows(content: ReportContent) -> dict[str, Any]:
    """Rows held back or remarked on, each whole; of very many the first, and where to find the others."""
    kinds = (
        ("held_back", content.held_back, content.result.log.held_back_count, "reason", "row", "in held_back.csv."),
        *(
            (name, rows, len(rows), "message", "remark", "by the command check with --verbose.")
            for name, rows in (("asked", content.remarks["asked"]), ("noted", content.remarks["note"]))
        ),
    )
    values: dict[str, Any] = {}
    for name, rows, count, message, noun, elsewhere in kinds:
        left_out = count - MOST_ROWS
        values[name] = [_row(cells, message=message) for cells in rows[:MOST_ROWS]]
        values[f"{name}_more"] = f"{wording.counted(left_out, f'more {noun}')} {elsewhere}" if left_out > 0 else ""
    return values


def _row(cells: Mapping[str, Any], *, message: str) -> dict[str, str]:
    """One row held back or remarked on; message : the column with the reason or the remark."""
    return {
        "source": cells["source"] or "",
        "line": "" if cells["line"] is None else str(cells["line"]),
        "unit": cells["unit_id"] or "",
        "day": cells["day"] or "",
        "column": cells["column"] or "",
        "value": cells["value"] or "",
        "message": cells[message],
    }
