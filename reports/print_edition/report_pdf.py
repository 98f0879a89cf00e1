"""report.pdf: the same content as report.html, laid out for paper."""

from __future__ import annotations

from pathlib import Path

from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.print_edition.edition import edition_values
from draincurve.reports.print_edition.typesetting import typeset

TEMPLATE = "report.typ"


def write_pdf(content: ReportContent, path: Path) -> None:
    """Write report.pdf: A4, tagged, with bookmarks; the same content gives the same bytes."""
    path.write_bytes(printed_report(content))


def printed_report(content: ReportContent) -> bytes:
    """The printed edition of one run as PDF."""
    return typeset(TEMPLATE, edition_values(content), content.as_of)
