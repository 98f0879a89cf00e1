"""Counts that are delivered with a night: rows, and units in service, due, to inspect and faster."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.reports.content.report_content import ReportContent
from draincurve.schemas.next_service_table import FASTER


@dataclass(frozen=True, slots=True)
class NightCounts:
    """Counts of one report; rows over all input tables."""

    rows_read: int
    rows_held_back: int
    units_in_service: int
    units_due_now: int
    units_to_inspect: int
    units_faster: int


def night_counts(content: ReportContent) -> NightCounts:
    """Counts of a report, as on its first screen."""
    accounts = content.result.log.accounts
    return NightCounts(
        rows_read=sum(account.read for account in accounts),
        rows_held_back=sum(account.held_back for account in accounts),
        units_in_service=len(content.rows),
        units_due_now=sum(row.due_now for row in content.rows),
        units_to_inspect=len(content.first.inspect),
        units_faster=sum(row.standing == FASTER for row in content.rows),
    )
