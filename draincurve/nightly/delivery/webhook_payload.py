"""What a webhook receives: one JSON object, whose fields are explained in PAYLOAD."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import Any

from draincurve.nightly.delivery.night_report import NightReport
from draincurve.reports.content.change_lines import ChangeList
from draincurve.reports.content.fleet_counts import AHEAD_DAYS
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.schemas.next_service_table import FASTER
from draincurve.schemas.shown_text import shown

MOST_ROWS_LISTED = 100
PAYLOAD_VERSION = 1

PAYLOAD = {
    "version": "1; a field may be added without a new number, none is taken away or renamed",
    "delivery": "name of this delivery; the same when it is posted again, so that a second one can be dropped",
    "status": "done; held back (done, but rows were not used); failed (there is no new report)",
    "started_at": "when the night started, with its offset from UTC",
    "duration_s": "seconds until the report was whole, or the night had failed",
    "fault": "why the night failed, in one line; empty where it did not",
    "last_good_at": "when the last good night before this one ended; null where none is known",
    "as_of": "day that the answers are for; null in a failed night, as are all fields below",
    "headline": "the report's first sentence",
    "counts": "rows_read, rows_held_back, rows_asked_about, units_in_service, units_due_now, "
    "units_to_inspect, units_faster",
    "inspect": "units with a sign that means: inspect now; unit, signs, seen_on in words",
    "due": f"units due now, within {AHEAD_DAYS} days or without a date, soonest first; unit, site, due_now, due_on, "
    "due_before (booked event), hours_left [h]; a null date is not known, and never means that there is time",
    "faster": "units called faster than the fleet; unit, site, hours_ratio with its range low and high",
    "changes": "since (day of the earlier report, in words) and lines (label, units, more, text, loud); null where "
    "there is no earlier report",
    "held_back": f"up to {MOST_ROWS_LISTED} rows that were not used; source, line, column, value, reason",
    "asked": f"up to {MOST_ROWS_LISTED} questions about rows that were kept, or about the whole log (line is null); "
    "source, line, column, value, message, proposal, setting",
    "more": "how many are left out of each list: inspect, due, faster, held_back, asked",
}
"""Every field and what it holds; dates are ISO 8601."""


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


def payload(night: NightReport) -> dict[str, Any]:
    """The fields of PAYLOAD, in that order; what is invisible in their texts is shown as an escape."""
    always = {
        "version": PAYLOAD_VERSION,
        "delivery": night.delivery_id,
        "status": night.status,
        "started_at": night.started_at.isoformat(timespec="seconds"),
        "duration_s": round(night.duration_s, 1),
        "fault": night.fault,
        "last_good_at": None if night.last_good_at is None else night.last_good_at.isoformat(timespec="seconds"),
    }
    of_content = {} if night.content is None else _of_content(night.content)
    fields: dict[str, Any] = _with_shown_text(dict.fromkeys(PAYLOAD) | always | of_content)
    return fields


def _with_shown_text(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _with_shown_text(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_with_shown_text(item) for item in value]
    return shown(value) if isinstance(value, str) else value


def _of_content(content: ReportContent) -> dict[str, Any]:
    first = content.first
    until = content.as_of + timedelta(days=AHEAD_DAYS)
    due = [row for row in content.rows if row.due_now or row.act_by is None or row.act_by <= until]
    faster = [_faster(row) for row in content.rows if row.standing == FASTER]
    counts, asked = night_counts(content), content.remarks["asked"]
    return {
        "as_of": content.as_of.isoformat(),
        "headline": first.headline,
        "counts": asdict(counts),
        "inspect": [{"unit": line.name, "signs": line.signs, "seen_on": line.seen_on} for line in first.inspect],
        "due": [_due(row) for row in due],
        "faster": faster,
        "changes": None if first.changes is None else _changes(first.changes),
        "held_back": _first_rows(content.held_back, ("source", "line", "column", "value", "reason")),
        "asked": _first_rows(asked, ("source", "line", "column", "value", "message", "proposal", "setting")),
        "more": {
            "inspect": counts.units_to_inspect - len(first.inspect),
            "due": content.counts.ahead - len(due),
            "faster": counts.units_faster - len(faster),
            "held_back": max(0, content.result.log.held_back_count - MOST_ROWS_LISTED),
            "asked": max(0, len(asked) - MOST_ROWS_LISTED),
        },
    }


def _first_rows(rows: Sequence[Mapping[str, Any]], names: tuple[str, ...]) -> list[dict[str, Any]]:
    return [{name: row[name] for name in names} for row in rows[:MOST_ROWS_LISTED]]


def _due(row: ServiceRow) -> dict[str, Any]:
    return {
        "unit": row.name,
        "site": row.site,
        "due_now": row.due_now,
        "due_on": None if row.due_on is None else row.due_on.isoformat(),
        "due_before": None if row.booked_on is None else row.booked_on.isoformat(),
        "hours_left": row.hours_left,
    }


def _faster(row: ServiceRow) -> dict[str, Any]:
    return {
        "unit": row.name,
        "site": row.site,
        "hours_ratio": row.hours_ratio,
        "low": row.hours_ratio_low,
        "high": row.hours_ratio_high,
    }


def _changes(changes: ChangeList) -> dict[str, Any]:
    return {
        "since": changes.since,
        "lines": [
            {
                "label": line.label,
                "units": [{"unit": unit.name, "detail": unit.detail} for unit in line.units],
                "more": line.more,
                "text": line.text,
                "loud": line.warning,
            }
            for line in changes.lines
        ],
    }


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
