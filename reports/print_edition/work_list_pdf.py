"""work_list.pdf: the work list alone, a sheet to take into the workshop."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.work_list import WorkList
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.print_edition.report_pdf import shown_log_name
from draincurve.reports.print_edition.safe_text import plain_values, unbroken
from draincurve.reports.print_edition.typesetting import typeset

TEMPLATE = "work_list.typ"
SHORT_CAUTIONS = CAUTIONS[1:6]


def write_work_list(content: ReportContent, path: Path) -> None:
    """Write work_list.pdf: A4, tagged; the same content gives the same bytes."""
    path.write_bytes(printed_work_list(content))


def printed_work_list(content: ReportContent) -> bytes:
    """The work list of one run as PDF."""
    day = content.as_of
    plain = plain_values(_values(content), {})
    plain["title"] = unbroken(plain["title"])
    plain |= {"as_of_date": {"year": day.year, "month": day.month, "day": day.day}}
    return typeset(TEMPLATE, plain, day=day).pdf


def _values(content: ReportContent) -> dict[str, Any]:
    name = content.result.log.name
    return {
        "title": f"Work list, {wording.day(content.as_of)} · {name}",
        "log": shown_log_name(name),
        "as_of": wording.weekday(content.as_of),
        "work": _unlinked(content.work),
        "caution": CAUTIONS[0],
        "cautions": SHORT_CAUTIONS,
    }


def _unlinked(work: WorkList) -> WorkList:
    """The list without links, since this sheet has no sections of units."""
    sites = tuple(replace(site, lines=tuple(replace(line, anchor="") for line in site.lines)) for site in work.sites)
    return replace(work, sites=sites)
