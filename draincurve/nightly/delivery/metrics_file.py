"""A metrics file in the text format of Prometheus (version 0.0.4), replaced atomically after every night."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict
from datetime import timedelta
from pathlib import Path

from draincurve.nightly.delivery.night_counts import night_counts
from draincurve.nightly.delivery.night_report import DeliveryContext, DeliveryOutcome, NightReport
from draincurve.pipeline.atomic_file import write_atomically
from draincurve.schemas.delivery_settings import MetricsSettings

LAST_GOOD = "draincurve_last_good_run_timestamp_seconds"
_MEANINGS = {
    LAST_GOOD: "Unix time at which the last good night ended",
    "draincurve_last_run_timestamp_seconds": "Unix time at which the last night ended, good or not",
    "draincurve_last_run_good": "1 where the last night left a new report, else 0",
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
    metrics: MetricsSettings, night: NightReport, *, outcomes: Sequence[DeliveryOutcome], context: DeliveryContext
) -> DeliveryOutcome:
    """Write the file, after a failed night too. A fault is returned as an outcome, never raised."""
    path = context.within(metrics.file or "")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(
            path, metrics_text(night, outcomes, last_good=last_good_before(path)).encode("ascii"), mode=0o644
        )
    except OSError as fault:
        return DeliveryOutcome("metrics", False, 1, f"{path}: cannot be written ({fault.strerror})")
    return DeliveryOutcome("metrics", True, 1, f"written to {path}")


def metrics_text(night: NightReport, outcomes: Sequence[DeliveryOutcome], *, last_good: float | None) -> str:
    """The file's text.

    last_good : Unix time of the last good night according to the earlier file [s]. After a failed night the counts of
    rows and units are left out, since they are unknown; the time of the last good night is kept.
    """
    ended = (night.started_at + timedelta(seconds=night.duration_s)).timestamp()
    good = night.content is not None
    if good:
        last_good = ended
    elif night.last_good_at is not None:
        last_good = night.last_good_at.timestamp()
    values: dict[str, float] = {} if last_good is None else {LAST_GOOD: last_good}
    values |= {
        "draincurve_last_run_timestamp_seconds": ended,
        "draincurve_last_run_good": int(good),
        "draincurve_run_duration_seconds": round(night.duration_s, 3),
        "draincurve_delivery_failures": sum(not outcome.delivered for outcome in outcomes),
    }
    if night.content is not None:
        values |= {f"draincurve_{name}": count for name, count in asdict(night_counts(night.content)).items()}
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
    found = re.search(rf"^{LAST_GOOD} (\d+(?:\.\d+)?)$", text, re.MULTILINE)
    return None if found is None else float(found[1])
