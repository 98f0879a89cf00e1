"""A report's content as the plain values that the templates of the printed edition take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from draincurve.pipeline.reading import TableAccount
from draincurve.reports.content import wording
from draincurve.reports.content.hours_pictures import MOST_UNITS
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.channel_sections import ChannelSection
from draincurve.reports.content.trade_words import CAUTIONS, HOW_TO_LOOK, INSPECT_CAUTION, SET_BY_MEANING, SHEDS_MORE
from draincurve.reports.figures.svg_picture import Picture
from draincurve.reports.print_edition.first_page import first_page, row_values
from draincurve.reports.print_edition.printed_findings import findings
from draincurve.reports.print_edition.safe_text import plain_values, unbroken
from draincurve.reports.print_edition.typesetting import printable_pictures
from draincurve.reports.print_edition.unit_choice import choice_words, drains_to_print, units_to_print
from draincurve.reports.print_edition.unit_values import unit_values
from draincurve.schemas.channels import CHANNELS, title_of

LONGEST_LOG_NAME = 90
MOST_ROWS = 2000
"""Rows printed of each kind, some fifty pages: a log in a bad way would fill thousands."""


def edition_values(content: ReportContent) -> dict[str, Any]:
    """Everything the printed edition says, with its pictures as SVG; all text is safe to print."""
    pictures: dict[str, Picture] = {}
    values: dict[str, Any] = plain_values({**_front(content), **_evidence(content), **_back(content)}, pictures)
    values |= plain_values(_rows(content), pictures, longest=None)
    values["title"] = unbroken(values["title"])
    return values | {"pictures": printable_pictures(pictures), "as_of_date": _date_parts(content)}


def _date_parts(content: ReportContent) -> dict[str, int]:
    return {"year": content.as_of.year, "month": content.as_of.month, "day": content.as_of.day}


def _front(content: ReportContent) -> dict[str, Any]:
    """Head lines, first page, hours, all units, one section a unit."""
    units = units_to_print(content.units, content.as_of)
    printed = {unit.row.anchor for unit in units}
    name = content.result.log.name
    drawn = f"The {MOST_UNITS} units due soonest are drawn; all {len(content.rows)} are in the table."
    return {
        "title": f"Next service, {wording.day(content.as_of)} · {name}",
        "log": name if len(name) <= LONGEST_LOG_NAME else f"{name[: LONGEST_LOG_NAME - 1]}…",
        "as_of": wording.weekday(content.as_of),
        "caution": CAUTIONS[0],
        "inspect_caution": INSPECT_CAUTION,
        "first": first_page(content, printed),
        "unit_count": wording.counted(content.counts.units, "unit"),
        "shown_note": _shown_words(content),
        "sites": [
            [site.site, *(str(count) for count in (site.units, site.now, site.ahead, site.faster, site.turned))]
            for site in content.sites[:MOST_ROWS]
        ],
        "hours": [item.wide for item in content.hours_pictures],
        "hours_note": drawn if len(content.rows) > MOST_UNITS else "",
        "rows": [row_values(row, content.as_of, printed) for row in content.rows],
        **findings(content, printed),
        "units": [unit_values(unit, drains_to_print(unit, len(content.units)), content.as_of) for unit in units],
        "units_note": choice_words(len(units), len(content.units)),
        "out_of_service": ", ".join(content.out_of_service),
        "channel_names": [channel.title for channel in content.channels],
    }


def _shown_words(content: ReportContent) -> str:
    """Which units a large fleet's list shows; empty where it shows all."""
    if not content.sites:
        return ""
    return (
        f"{len(content.rows)} of {wording.counted(content.counts.units, 'unit')} stand here: those due soonest, and "
        "the first of those with a sign, faster than the fleet, or turned. Every unit stands in next_service.csv."
    )


def _evidence(content: ReportContent) -> dict[str, Any]:
    """Channels, the fleet's intervals, what is not known."""
    return {
        "channels": [_channel(channel) for channel in content.channels],
        "fleet_intervals": [
            [
                item["spring_type"] or "none",
                item["oil_grade"] or "none",
                wording.hours(wording.number(item["interval_h"])).removesuffix(" h"),
                wording.hours_range(wording.number(item["interval_low_h"]), wording.number(item["interval_high_h"])),
                wording.SET_BY.get(item["set_by"], item["set_by"]),
                str(item["drains"]),
                str(item["units"]),
            ]
            for item in content.fleet_intervals
        ],
        "sheds_more": SHEDS_MORE,
        "set_by_meaning": [[wording.SET_BY[name].capitalize(), meaning] for name, meaning in SET_BY_MEANING.items()],
        "cannot_tell": _cannot_tell(content),
    }


def _back(content: ReportContent) -> dict[str, Any]:
    """How to read it, settings and inputs."""
    versions = content.result.versions
    return {
        "scales": [{"title": channel.title, "levels": channel.scale} for channel in CHANNELS],
        "how_to_look": HOW_TO_LOOK,
        "cautions": CAUTIONS,
        "assumptions": content.assumptions,
        "settings": content.settings,
        "accounts": [_account(account) for account in content.result.log.accounts],
        "made_with": f"Made with {', '.join(f'{name} {version}' for name, version in versions.items())}."
        if versions
        else "",
    }


def _rows(content: ReportContent) -> dict[str, Any]:
    """Rows held back or remarked on, each whole; of very many the first, and where the others are."""
    kinds = (
        ("held_back", content.held_back, content.result.log.held_back_count, "reason", "row", "in held_back.csv."),
        *(
            (name, rows, len(rows), "message", "remark", "by the command check with --verbose.")
            for name, rows in (("asked", content.remarks["asked"]), ("noted", content.remarks["note"]))
        ),
    )
    found: dict[str, Any] = {}
    for name, rows, count, said, noun, elsewhere in kinds:
        left_out = count - MOST_ROWS
        found[name] = [_row(item, said) for item in rows[:MOST_ROWS]]
        found[f"{name}_more"] = f"{wording.counted(left_out, f'more {noun}')} {elsewhere}" if left_out > 0 else ""
    return found


def _channel(channel: ChannelSection) -> dict[str, Any]:
    counted = f"{wording.counted(channel.drains, 'rated drain')}, {channel.past} past the limit"
    if channel.straddling:
        counted += f"; {channel.straddling} rated as a range that straddles the limit, used as either"
    return {
        "title": channel.title,
        "limit": channel.limit,
        "doubt": channel.doubt,
        "why_not": channel.why_not,
        "answer": channel.answer,
        "counted": " ".join([f"{counted}.", *channel.sentences[:1]]),
        "sentences": channel.sentences,
        "curve": channel.curve,
        "kinds": channel.kinds,
        "kinds_left_out": channel.kinds_left_out,
        "multipliers": channel.multipliers,
        "multiplier_rows": channel.multiplier_rows,
        "movement": channel.movement,
    }


def _cannot_tell(content: ReportContent) -> list[dict[str, str]]:
    said = []
    for channel in content.channels:
        name = channel.title
        if channel.why_not:
            said.append({"subject": f"{name}, no fit.", "text": channel.why_not})
        said += [{"subject": f"{name}.", "text": text} for text in (channel.doubt, *channel.unmoved) if text]
    for left in content.result.described.left_out:
        subject = f"{title_of(left.channel)}, {left.term} left out:"
        said.append({"subject": subject, "text": wording.sentence(left.reason)})
    return said


def _account(account: TableAccount) -> dict[str, Any]:
    return {
        "table": account.table,
        "source": account.source,
        "sha256": account.sha256,
        "read": account.read,
        "accepted": account.accepted,
        "held_back": account.held_back,
    }


def _row(item: Mapping[str, Any], said: str) -> dict[str, str]:
    """One row held back or remarked on, with what is said of it."""
    return {
        "source": item["source"] or "",
        "line": "" if item["line"] is None else str(item["line"]),
        "column": item["column"] or "",
        "value": item["value"] or "",
        "said": item[said],
    }
