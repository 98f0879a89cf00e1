"""The outcome of a night: exit status, a line of JSON for monitoring, and a line on a fault."""

from __future__ import annotations

import json
import traceback
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from draincurve.nightly.report_facts import ReportFacts
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.output.dated_reports import latest_report
from draincurve.schemas.errors import DraincurveError, HeaderError, file_fault_line
from draincurve.schemas.settings import POLICY
from draincurve.schemas.shown_text import shown

if TYPE_CHECKING:
    from draincurve.nightly.delivery.night_report import DeliveryOutcome

_SECONDS = 1
MOST_NAMED = 20
"""Units that a line names; the report and its tables name all of them."""


@dataclass(frozen=True, slots=True)
class CurrentReport:
    """The current report; made_at has its time zone."""

    folder: Path
    as_of: date
    made_at: datetime

    def age_text(self, now: datetime) -> str:
        """Its age, in a sentence."""
        hours = (now - self.made_at).total_seconds() / 3600.0
        if hours < 0.0:
            age = f"made at {self.made_at:%Y-%m-%d %H:%M}, which the clock says is to come"
        elif hours < 1.0:
            age = f"made {hours * 60.0:.0f} minutes ago"
        elif hours < 48.0:
            age = f"made {hours:.1f} hours ago"
        else:
            age = f"made {hours / 24.0:.0f} days ago"
        return f"the last good report stays: it is for {self.as_of}, {age}"


@dataclass(frozen=True, slots=True)
class NightOutcome:
    """The outcome of a night.

    status : "done", "held back", "unchanged", "failed" or "stopped"; seconds : until the report was complete;
    message : one line, empty unless the night failed or was stopped; setting : lines for the settings file that may
    correct it, or empty.
    """

    status: str
    exit_status: int
    seconds: float
    report: Path | None = None
    sites: int = 0
    facts: ReportFacts | None = None
    changes: ReportChanges | None = None
    deliveries: tuple[DeliveryOutcome, ...] = ()
    warnings: tuple[str, ...] = ()
    memory_mb: float | None = None
    message: str = ""
    setting: str = ""
    last_good: CurrentReport | None = None


def outcome_json(outcome: NightOutcome) -> str:
    """The night as one line of JSON; unknown counts are null."""
    facts, report = outcome.facts, outcome.report
    line: dict[str, Any] = {
        "status": outcome.status,
        "exit_status": outcome.exit_status,
        "as_of": None if facts is None else facts.as_of.isoformat(),
        **_rows(facts),
        **_question_counts(report),
        "due_now": None if facts is None else len(facts.due_now),
        "due_units": None if facts is None else [unit.unit_id for unit in facts.due_now[:MOST_NAMED]],
        "inspect_now": None if facts is None else len(facts.signs),
        "inspect_units": None if facts is None else _signs(facts),
        "sites": outcome.sites,
        "seconds": round(outcome.seconds, _SECONDS),
        "memory_mb": outcome.memory_mb,
        "report": None if report is None else str(report / "report.html"),
        "since": None if outcome.changes is None else outcome.changes.since.isoformat(),
        "changes": None if outcome.changes is None else outcome.changes.counts,
        "deliveries": [
            {"way": delivery.way, "delivered": delivery.delivered, "tries": delivery.tries, "said": delivery.message}
            for delivery in outcome.deliveries
        ],
        "warnings": list(outcome.warnings),
        "message": outcome.message,
        "settings": outcome.setting.splitlines(),
        "last_good": None if outcome.last_good is None else _current_report_json(outcome.last_good),
    }
    return shown(json.dumps(line, ensure_ascii=False))


def fault_line(fault: Exception, *, folder: Path) -> str:
    """One line on a fault. Of an unforeseen one only kind and line are given: its message may hold a secret.

    folder : of the reports, where a full disk is noticed
    """
    if isinstance(fault, HeaderError):
        return " ".join(fault.within(POLICY)[0].split())
    if isinstance(fault, DraincurveError):
        return " ".join(str(fault).split())
    if isinstance(fault, OSError):
        return file_fault_line(fault, place=folder)
    if isinstance(fault, MemoryError):
        return "not enough memory; give the machine or the timer more"
    last = traceback.extract_tb(fault.__traceback__)[-1]
    return (
        f"a fault of the program ({type(fault).__name__} in {Path(last.filename).name}, line {last.lineno}); "
        "please report it"
    )


def fault_setting(fault: Exception) -> str:
    """Lines for the settings file of the night that may correct a fault; empty where none are known."""
    return fault.within(POLICY)[1] if isinstance(fault, HeaderError) else ""


def current_report(folder: Path) -> CurrentReport | None:
    """The report that `latest` points to, read from its own files, so that no ledger is needed."""
    try:
        report = latest_report(folder)
        if report is None:
            return None
        record = report / "run.json"
        as_of = date.fromisoformat(json.loads(record.read_text(encoding="utf-8"))["as_of"])
        return CurrentReport(report, as_of, datetime.fromtimestamp(record.stat().st_mtime).astimezone())
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _signs(facts: ReportFacts) -> list[dict[str, str | None]]:
    """The first units to inspect, with their signs."""
    signs = list(facts.signs.items())[:MOST_NAMED]
    return [{"unit_id": name.unit_id, "site": name.site, "signs": text} for name, text in signs]


def _rows(facts: ReportFacts | None) -> Mapping[str, int | None]:
    names = ("read", "accepted", "held_back")
    if facts is None:
        return dict.fromkeys(names)
    return {name: sum(getattr(table, name) for table in facts.tables) for name in names}


def _question_counts(report: Path | None) -> dict[str, int | None]:
    """Rows asked about, and questions, as the report's own record counts them; None where it does not."""
    try:
        asked = {} if report is None else json.loads((report / "run.json").read_text(encoding="utf-8"))["asked"]
    except (OSError, ValueError, KeyError):
        asked = {}
    return {"rows_asked_about": asked.get("rows"), "questions": asked.get("count")}


def _current_report_json(report: CurrentReport) -> dict[str, str]:
    return {
        "report": str(report.folder / "report.html"),
        "as_of": report.as_of.isoformat(),
        "made_at": report.made_at.isoformat(timespec="seconds"),
    }
