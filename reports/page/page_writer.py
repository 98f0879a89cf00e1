"""report.html: one self-contained page, the answer first and the evidence after it."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

from draincurve.reports.content.glossary import GLOSSARY, TERM_OF_SUBJECT
from draincurve.reports.content.hours_pictures import MOST_UNITS, hours_rows
from draincurve.reports.content.ratio_text import TYPICAL
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.section_headings import section_headings
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trade_words import (
    CAUTIONS,
    HOW_TO_LOOK,
    INSPECT_CAUTION,
    NO_DRAIN_YET,
    ONLY_SPRING_AND_OIL,
    SET_BY,
)
from draincurve.reports.figures.hours_left_figure import axis_end
from draincurve.reports.page.templates import html_templates, inlined_script, inlined_style
from draincurve.schemas.channels import CHANNELS

MOST_ROWS = 400
"""Rows held back, and remarks of each kind, that the page shows; the others are counted."""


def write_page(content: ReportContent, path: Path) -> None:
    """Write report.html; the same content gives the same bytes."""
    path.write_bytes(page_html(content).encode("utf-8", "replace"))


def page_html(content: ReportContent) -> str:
    """The page as text: no network request, all text from the log escaped, the same text every time."""
    script, script_digest = inlined_script()
    return (
        html_templates()
        .get_template("page.html")
        .render(
            {item.name: getattr(content, item.name) for item in fields(content)},
            many_sites=len({row.site for row in content.rows}) > 1,
            any_machine=any(row.machine for row in content.rows),
            choices=_choices(content.rows),
            headings=section_headings(content),
            terms={term.key: term for term in GLOSSARY},
            term_of=TERM_OF_SUBJECT,
            typical=TYPICAL,
            longest_h=axis_end(hours_rows(content.rows, content.as_of, wide=False)),
            most_drawn=MOST_UNITS,
            most_rows=MOST_ROWS,
            scales=CHANNELS,
            how_to_look=HOW_TO_LOOK,
            cautions=CAUTIONS,
            inspect_caution=INSPECT_CAUTION,
            no_drain_yet=NO_DRAIN_YET,
            only_spring_and_oil=ONLY_SPRING_AND_OIL,
            set_by_meaning={value.label: value.meaning for value in SET_BY.values()},
            style=inlined_style(),
            script=script,
            script_digest=script_digest,
        )
    )


def _choices(rows: tuple[ServiceRow, ...]) -> dict[str, list[str]]:
    """Values by which the table can be filtered, of columns with at least two."""
    choices = {
        "Standing": sorted({row.standing for row in rows}),
        "Site": sorted({row.site for row in rows if row.site is not None}),
        "Machine": sorted({row.machine for row in rows if row.machine is not None}),
        "Spring": sorted({row.spring_type for row in rows if row.spring_type is not None}),
        "Set by": sorted({row.set_by_text for row in rows}),
    }
    return {name: values for name, values in choices.items() if len(values) > 1}
