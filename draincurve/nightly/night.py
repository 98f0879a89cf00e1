"""One night from start to end: lock, look for new inputs, plan, write, swap in, record, deliver."""

from __future__ import annotations

import os
import resource
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from draincurve.exit_status import DONE, FAILED, WITH_HELD_BACK
from draincurve.nightly.delivery.night_report import DeliveryOutcome, NightReport
from draincurve.nightly.delivery.notification import Notification
from draincurve.nightly.ledger import (
    GoodRun,
    RunStatus,
    begin_run,
    end_run,
    open_ledger,
    record_deliveries,
    record_good_run,
    transaction,
)
from draincurve.nightly.ledger_queries import LastGoodRun, facts_before, facts_of_run, last_good_run
from draincurve.nightly.night_clock import NightDay, night_day
from draincurve.nightly.night_inputs import digest_of_inputs, digest_of_result, night_inputs
from draincurve.nightly.night_outcome import NightOutcome, current_report, fault_line, fault_setting
from draincurve.nightly.night_run import NightRun
from draincurve.nightly.night_stop import NightStoppedError, stoppable
from draincurve.nightly.notifying import NO_NOTIFICATION, notification_if_any, send_failure, send_notification
from draincurve.nightly.outbox import (
    Outbox,
    keep_notification,
    kept_nights,
    notification_of_run,
    undelivered_warnings,
)
from draincurve.nightly.report_comparison import changes_between
from draincurve.nightly.report_facts import ReportFacts, facts_of_result
from draincurve.nightly.run_lock import LockedError, one_at_a_time
from draincurve.nightly.site_report import narrowed, narrowed_changes, site_folder, units_by_site
from draincurve.nightly.wear_and_parts import wear_and_parts
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.run import plan
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.output.dated_reports import (
    clear_leftovers,
    delete_old,
    latest_report,
    new_report,
)
from draincurve.reports.output.report_files import write_files
from draincurve.schemas.errors import file_fault_line

SITES = "sites"


def run_night(night: NightRun) -> NightOutcome:
    """The whole night. Raises nothing.

    Whatever fails before the new report is complete leaves the last good one unchanged.
    """
    folder = night.file.output_folder
    try:
        with (
            stoppable(night.deadline_s) as lift_deadline,
            one_at_a_time(folder, f"process {os.getpid()}, since {night.started.at:%Y-%m-%d %H:%M:%S %z}"),
        ):
            clear_leftovers(folder)
            with open_ledger(night.file.ledger) as ledger:
                run_id = begin_run(ledger, night.started)
                try:
                    return _recorded_night(night, ledger, run_id=run_id, lift_deadline=lift_deadline)
                except (Exception, NightStoppedError) as fault:
                    with suppress(sqlite3.Error):
                        _end_in_ledger(night, ledger, run_id=run_id, fault=fault)
                    raise
    except LockedError as fault:
        return _failed(night, str(fault))
    except NightStoppedError as fault:
        stopped = _failed(night, str(fault))
        return _with_failure_sent(night, stopped) if fault.overdue else replace(stopped, status="stopped")
    except Exception as fault:
        failed = replace(_failed(night, fault_line(fault, folder=folder)), setting=fault_setting(fault))
        return _with_failure_sent(night, failed)


def _recorded_night(
    night: NightRun, ledger: sqlite3.Connection, *, run_id: int, lift_deadline: Callable[[], None]
) -> NightOutcome:
    """A night that holds the lock and is recorded in the ledger."""
    last = last_good_run(ledger)
    day = night_day(night.started, None if last is None else last.moment, given=night.as_of)
    inputs = night_inputs(night.file, day.as_of)
    night.progress("looking for anything new")
    digest = digest_of_inputs(inputs, night.file.settings)
    notification = (
        None if last is None else _current_notification(ledger, last, digest, folder=night.file.output_folder)
    )
    if last is not None and notification is not None and not night.force:
        end_run(ledger, run_id, status=RunStatus.UNCHANGED, ended=_now(), as_of=day.as_of)
        outcome = _unchanged(night, ledger, last=last, day=day)
    else:
        result = plan(inputs, night.progress)
        digest, facts = digest_of_result(result, night.file.settings), facts_of_result(result)
        before = facts_before(ledger, digest)
        unsent = undelivered_warnings(ledger, last) if last is not None and last.digest != digest else ()
        result = replace(result, warnings=(*day.warnings, *unsent, *result.warnings))
        changes = None if before is None else changes_between(before, facts)
        outcome, notification = _new_report_outcome(
            night, ledger, run_id=run_id, result=result, changes=changes, facts=facts, digest=digest, day=day
        )
    lift_deadline()
    night.progress("delivering")
    outbox = Outbox(ledger, digest)
    if night.force:
        outbox.forget()
    outcomes: tuple[DeliveryOutcome, ...] = ()
    if notification is not None:
        outcomes = send_notification(
            night.file,
            notification,
            record=outbox,
            nights=kept_nights(ledger, night.file.output_folder),
            started=night.started.at,
            seconds=outcome.seconds,
            left_s=night.left_s,
        )
    delivered = ((item.way, item.delivered, item.tries, item.message) for item in outcomes)
    record_deliveries(ledger, run_id, outcomes=delivered)
    night.progress("deleting old reports")
    return replace(
        outcome, deliveries=outcomes, warnings=(*outcome.warnings, *_deleted(night)), memory_mb=_memory_mb()
    )


def _with_failure_sent(night: NightRun, failed: NightOutcome) -> NightOutcome:
    """The outcome of a failed night, whose failure is sent to the receivers."""
    good_at = None if failed.last_good is None else failed.last_good.made_at
    outcomes = send_failure(
        night.file,
        failed.message,
        started=night.started.at,
        seconds=failed.seconds,
        left_s=night.left_s,
        last_good_at=good_at,
    )
    return replace(failed, deliveries=outcomes)


def _end_in_ledger(night: NightRun, ledger: sqlite3.Connection, *, run_id: int, fault: BaseException) -> None:
    """Record why a run ended without a report."""
    stopped = isinstance(fault, NightStoppedError) and not fault.overdue
    status = RunStatus.STOPPED if stopped else RunStatus.FAILED
    folder = night.file.output_folder
    message = fault_line(fault, folder=folder) if isinstance(fault, Exception) else str(fault)
    end_run(ledger, run_id, status=status, ended=_now(), as_of=night.as_of, message=message)


def _new_report_outcome(
    night: NightRun,
    ledger: sqlite3.Connection,
    *,
    run_id: int,
    result: PlanResult,
    changes: ReportChanges | None,
    facts: ReportFacts,
    digest: str,
    day: NightDay,
) -> tuple[NightOutcome, Notification | None]:
    """Write the report, swap it in and record it in the ledger with its notification.

    The ledger's transaction is committed right after the swap. A kill between the two leaves a complete report that
    is not in the ledger, and the next run makes it again.
    """
    status = WITH_HELD_BACK if result.log.faulty_count else DONE
    shrunk = () if changes is None else tuple(table.text for table in changes.shrunk)
    clock_day = night.started.day if night.as_of is not None else day.as_of
    with (
        transaction(ledger),
        new_report(night.file.output_folder, result.as_of) as (staged, target),
    ):
        content, sites = _write(night, result, changes=changes, staged=staged)
        timings = {**result.timings, "all until swapped in": night.seconds}
        warnings = (*shrunk, *result.warnings)
        good = GoodRun(digest, target.name, status, facts, timings, warnings, wear_and_parts(result))
        record_good_run(ledger, run_id, ended=_now(), day=clock_day, night=good)
        notification = notification_if_any(NightReport(digest, night.started.at, content, target, night.seconds))
        if notification is not None:
            keep_notification(ledger, run_id, notification)
        night.progress("swapping in")
    outcome = NightOutcome(
        status="held back" if status else "done",
        exit_status=status,
        seconds=night.seconds,
        report=target,
        sites=sites,
        facts=facts,
        changes=changes,
        warnings=(*good.warnings, *(() if notification is not None else (NO_NOTIFICATION,))),
    )
    return outcome, notification


def _write(
    night: NightRun, result: PlanResult, *, changes: ReportChanges | None, staged: Path
) -> tuple[ReportContent, int]:
    """Write the report of the whole log and one for each site; return the content of the first, and the sites."""
    night.progress("writing the report")
    content = write_files(result, staged, changes=changes).content
    sites = units_by_site(result) if night.file.settings.output.site_reports else {}
    for site, keys in sites.items():
        night.progress("writing the report of a site")
        folder = staged / SITES / site_folder(site)
        folder.mkdir(parents=True)
        site_changes = None if changes is None else narrowed_changes(changes, result, site=site, keys=keys)
        write_files(narrowed(result, site, keys=keys), folder, changes=site_changes)
    return content, len(sites)


def _current_notification(
    ledger: sqlite3.Connection, last: LastGoodRun, digest: str, *, folder: Path
) -> Notification | None:
    """The notification of the last report, if that is in the folder and is of the same inputs."""
    report = latest_report(folder)
    if last.digest != digest or report is None or report.name != last.folder:
        return None
    return notification_of_run(ledger, last.run_id, report) if (report / "report.html").is_file() else None


def _unchanged(night: NightRun, ledger: sqlite3.Connection, *, last: LastGoodRun, day: NightDay) -> NightOutcome:
    """The outcome of a night without new inputs: that of the night that made the report."""
    facts, before = facts_of_run(ledger, last.run_id), facts_before(ledger, last.digest)
    report = night.file.output_folder / last.folder
    return NightOutcome(
        status="unchanged",
        exit_status=last.exit_status,
        seconds=night.seconds,
        report=report,
        sites=sum(1 for _ in (report / SITES).glob("*/report.html")),
        facts=facts,
        changes=None if before is None else changes_between(before, facts),
        warnings=day.warnings,
    )


def _deleted(night: NightRun) -> tuple[str, ...]:
    """Delete old reports; return a warning where one cannot be deleted."""
    try:
        delete_old(night.file.output_folder, night.file.settings.schedule.keep_reports)
    except OSError as fault:
        return (f"An old report could not be deleted: {file_fault_line(fault)}",)
    return ()


def _failed(night: NightRun, message: str) -> NightOutcome:
    return NightOutcome(
        status="failed",
        exit_status=FAILED,
        seconds=night.seconds,
        message=message,
        memory_mb=_memory_mb(),
        last_good=current_report(night.file.output_folder),
    )


def _memory_mb() -> float:
    """Peak memory of this process [MB]; Linux counts it in KiB."""
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0, 1)


def _now() -> datetime:
    return datetime.now().astimezone()
