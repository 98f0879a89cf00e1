"""Counts that are delivered with a night: rows, and units in service, due, to inspect and faster."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.reports.content.report_content import ReportContent


@dataclass(frozen=True, slots=True)
class NightCounts:
    """Counts of one report; rows over all input tables."""

    rows_read: int
    rows_held_back: int
    rows_asked_about: int
    units_in_service: int
    units_due_now: int
    units_to_inspect: int
    units_faster: int


def night_counts(content: ReportContent) -> NightCounts:
    """Counts of a report over all its units, however few of them it shows."""
    log, counts = content.result.log, content.counts
    return NightCounts(
        rows_read=sum(account.read for account in log.accounts),
        rows_held_back=sum(account.held_back for account in log.accounts),
        rows_asked_about=log.asked_rows,
        units_in_service=counts.units,
        units_due_now=counts.now,
        units_to_inspect=content.result.decided.inspect_now.height,
        units_faster=counts.faster,
    )
