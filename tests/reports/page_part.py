"""The page, or one part of it, rendered for a test."""

from __future__ import annotations

from typing import Any

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.report_content import report_content
from draincurve.reports.page.page_writer import page_html
from draincurve.reports.page.templates import html_templates


def whole_page(result: PlanResult, changes: ReportChanges | None = None) -> str:
    """The page of one run."""
    return page_html(report_content(result, changes=changes))


def page_part(name: str, **context: Any) -> str:
    """The part with this name, such as "oils"; a name that is missing from the context is an error."""
    part = '{% import "macros.html" as parts with context %}{% include "_' + name + '.html" %}'
    return html_templates().from_string(part).render(**context)
