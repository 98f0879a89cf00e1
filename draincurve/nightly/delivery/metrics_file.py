"""A metrics file in the text format of Prometheus (version 0.0.4), replaced atomically after every night."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome
from draincurve.nightly.delivery.notification import Notification
from draincurve.pipeline.atomic_file import write_atomically
from draincurve.schemas.delivery_settings import MetricsSettings

LAST_GOOD = "draincurve_last_good_run_timestamp_seconds"
_MEANINGS = {
    LAST_GOOD: "Unix time at which the last good night ended",
    "draincurve_last_run_timestamp_seconds": "Unix time at which the last night ended, good or not",
    "draincurve_last_run_good": "1 where the last night ended with a whole report, new or unchanged, else 0",
    "draincurve_run_duration_seconds": "Seconds until the report was whole, or the night had failed",
    "draincurve_delivery_failures": "Ways of delivery that failed in the last night",
    "draincurve_rows_read": "Rows of all input tables",
    "draincurve_rows_held_back": "Rows that were not used",
    "draincurve_rows_asked_about": "Rows with a question that waits for an answer",
    "draincurve_units_in_service": "Units in service",
    "draincurve_units_due_now": "Units due now",
    "draincurve_units_to_inspect": "Units with a sign that means: inspect now",
    "draincurve_units_faster": "Units called faster than the fleet",
}


def deliver_metrics(
    metrics: MetricsSettings,
    notification: Notification,
    *,
    outcomes: Sequence[DeliveryOutcome],
    started_at: datetime,
    duration_s: float,
    context: DeliveryContext,
) -> DeliveryOutcome:
    """Write the file, after a failed night too. A fault is returned as an outcome, never raised.

    started_at, duration_s : of this night [s], which may have sent the notification of an earlier one
    """
    path = context.within(metrics.file or "")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        text = metrics_text(
            notification, outcomes, started_at=started_at, duration_s=duration_s, last_good=last_good_before(path)
        )
        write_atomically(path, text.encode("ascii"), mode=0o644)
    except OSError as fault:
        return DeliveryOutcome("metrics", False, 1, f"{path}: cannot be written ({fault.strerror})")
    return DeliveryOutcome("metrics", True, 1, f"written to {path}")


def metrics_text(
    notification: Notification,
    outcomes: Sequence[DeliveryOutcome],
    *,
    started_at: datetime,
    duration_s: float,
    last_good: float | None,
) -> str:
    """The file's text.

    last_good : Unix time of the last good night according to the earlier file [s]. After a failed night the counts of
    rows and units are left out, since they are unknown; the time of the last good night is kept.
    """
    ended = (started_at + timedelta(seconds=duration_s)).timestamp()
    counts, last_good_at = notification.fields["counts"], notification.fields["last_good_at"]
    if counts is not None:
        last_good = ended
    elif last_good_at is not None:
        last_good = datetime.fromisoformat(last_good_at).timestamp()
    values: dict[str, float] = {} if last_good is None else {LAST_GOOD: last_good}
    values |= {
        "draincurve_last_run_timestamp_seconds": ended,
        "draincurve_last_run_good": int(counts is not None),
        "draincurve_run_duration_seconds": round(duration_s, 3),
        "draincurve_delivery_failures": sum(not outcome.delivered for outcome in outcomes),
    }
    values |= {f"draincurve_{name}": count for name, count in (counts or {}).items()}
    lines = []
    for name, value in values.items():
        lines += [f"# HELP {name} {_MEANINGS[name]}", f"# TYPE {name} gauge", f"{name} {value!r}"]
    return "\n".join(lines) + "\n"


def last_good_before(path: Path) -> float | None:
    """Unix time of the last good night according to an existing file [s]; None where there is none."""
    try:
        text = path.read_text(encoding="ascii", errors="replace")
    except OSError:
        return None
    match = re.search(rf"^{LAST_GOOD} (\d+(?:\.\d+)?)$", text, re.MULTILINE)
    return None if match is None else float(match[1])
