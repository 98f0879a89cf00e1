"""The page, or one part of it, rendered for a test."""

from __future__ import annotations

from contextlib import nullcontext
from typing import Any

from empty_pictures import empty_pictures

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.report_content import report_content
from draincurve.reports.page.page_writer import page_html
from draincurve.reports.page.templates import html_templates


def whole_page(result: PlanResult, changes: ReportChanges | None = None, *, pictures: bool = True) -> str:
    """The page of one run; pictures=False draws nothing in them, for tests that read words."""
    with nullcontext() if pictures else empty_pictures():
        return page_html(report_content(result, changes=changes))


def page_part(name: str, **context: Any) -> str:
    """The part with this name, such as "oils"; a name that is missing from the context is an error."""
    part = '{% import "macros.html" as parts with context %}{% include "_' + name + '.html" %}'
    return html_templates().from_string(part).render(**context)
