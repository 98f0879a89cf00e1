"""One night from start to end: lock, look whether anything is new, plan, write, swap in, remember, deliver."""

from __future__ import annotations

import os
import resource
import sqlite3
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from draincurve.nightly import ledger as book
from draincurve.nightly.changes import changes_between
from draincurve.nightly.delivery.night_delivery import deliver_fault, deliver_report
from draincurve.nightly.ledger_queries import LastNight, facts_before, facts_of_run, last_good_night
from draincurve.nightly.night_clock import Moment, NightDay, night_day
from draincurve.nightly.night_inputs import digest_of_inputs, digest_of_result, night_inputs
from draincurve.nightly.night_outcome import DONE, FAILED, WITH_HELD_BACK, NightOutcome, fault_line, standing_report
from draincurve.nightly.one_site import narrowed, narrowed_changes, site_folder, units_by_site
from draincurve.nightly.report_facts import ReportFacts, facts_of_result
from draincurve.nightly.run_lock import LockedError, one_at_a_time
from draincurve.pipeline.report import Report
from draincurve.pipeline.run import plan
from draincurve.pipeline.stopwatch import Progress
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
from draincurve.schemas.nightly_settings import NightlyFile

SITES = "sites"


@dataclass(frozen=True, slots=True)
class Night:
    """What is asked of a night. as_of : a day other than today's, if given; started, clock : begin of the run."""

    file: NightlyFile
    as_of: date | None
    force: bool
    started: Moment
    clock: float
    progress: Progress

    @property
    def seconds(self) -> float:
        """Since the run began."""
        return time.perf_counter() - self.clock


def run_night(night: Night) -> NightOutcome:
    """The whole night; never raises but for being interrupted.

    Whatever fails before the new report is whole leaves the last good one where it was.
    """
    folder = night.file.output_folder
    try:
        with one_at_a_time(folder, f"process {os.getpid()}, since {night.started.at:%Y-%m-%d %H:%M:%S %z}"):
            clear_leftovers(folder)
            with book.open_ledger(night.file.ledger) as ledger:
                run_id = book.begin_run(ledger, night.started)
                try:
                    return _entered_night(night, ledger, run_id)
                except Exception as fault:
                    with suppress(sqlite3.Error):
                        book.end_run(ledger, run_id, book.FAILED, _now(), night.as_of, fault_line(fault))
                    raise
    except LockedError as fault:
        return _failed(night, str(fault))
    except Exception as fault:
        failed = _failed(night, fault_line(fault))
        good_at = None if failed.last_good is None else failed.last_good.made_at
        outcomes = deliver_fault(
            night.file, failed.message, started=night.started.at, seconds=failed.seconds, last_good_at=good_at
        )
        return replace(failed, deliveries=outcomes)


def _entered_night(night: Night, ledger: sqlite3.Connection, run_id: int) -> NightOutcome:
    """A night that has the lock and stands in the ledger."""
    last = last_good_night(ledger)
    day = night_day(night.started, None if last is None else last.moment, given=night.as_of)
    inputs = night_inputs(night.file, day.as_of)
    night.progress("looking for anything new")
    digest = digest_of_inputs(inputs, night.file.settings)
    if not night.force and last is not None and _stands(last, digest, night.file.output_folder):
        book.end_run(ledger, run_id, book.UNCHANGED, _now(), day.as_of, "")
        return _unchanged(night, ledger, last, day)
    result = plan(inputs, night.progress)
    digest, facts = digest_of_result(result, night.file.settings), facts_of_result(result)
    before = facts_before(ledger, digest)
    result = replace(result, warnings=(*day.said, *result.warnings))
    changes = None if before is None else changes_between(before, facts)
    made = _made(night, ledger, run_id, result, changes, facts, digest, day)
    night.progress("delivering")
    again = last is not None and last.digest == digest and not night.force
    outcomes = deliver_report(
        night.file,
        made.content,
        started=night.started.at,
        folder=made.folder,
        seconds=made.outcome.seconds,
        digest=digest,
        done=last.ways if last is not None and again else (),
    )
    book.enter_deliveries(ledger, run_id, ((one.way, one.delivered, one.tries, one.said) for one in outcomes))
    night.progress("deleting old reports")
    return replace(
        made.outcome,
        deliveries=outcomes,
        warnings=(*made.outcome.warnings, *_deleted(night)),
        memory_mb=_memory_mb(),
    )


@dataclass(frozen=True, slots=True)
class _Made:
    """A report that is whole."""

    outcome: NightOutcome
    folder: Path
    content: ReportContent


def _made(
    night: Night,
    ledger: sqlite3.Connection,
    run_id: int,
    result: Report,
    changes: ReportChanges | None,
    facts: ReportFacts,
    digest: str,
    day: NightDay,
) -> _Made:
    """Writes the report, swaps it in and enters it in the ledger.

    The ledger's transaction is closed right after the swap; a kill between the two leaves a whole report that the
    ledger does not know, and the next run makes it anew.
    """
    status = WITH_HELD_BACK if result.log.held_back.height else DONE
    shrunk = () if changes is None else tuple(table.words for table in changes.shrunk)
    clock_day = night.started.day if night.as_of is not None else day.as_of
    with (
        book.transaction(ledger),
        new_report(night.file.output_folder, result.as_of) as (staged, target),
    ):
        content, sites = _write(night, result, changes, staged)
        timings = {**result.timings, "all until swapped in": night.seconds}
        good = book.GoodNight(digest, target.name, status, facts, timings, (*shrunk, *result.warnings))
        book.enter_good_night(ledger, run_id, _now(), clock_day, good)
        night.progress("swapping in")
    outcome = NightOutcome(
        status="held back" if status else "done",
        exit_status=status,
        seconds=night.seconds,
        report=target,
        sites=sites,
        facts=facts,
        changes=changes,
        warnings=good.warnings,
    )
    return _Made(outcome, target, content)


def _write(night: Night, result: Report, changes: ReportChanges | None, staged: Path) -> tuple[ReportContent, int]:
    """The report over all, and one for each site; returns what the first says, and the number of sites."""
    night.progress("writing the report")
    content = write_files(result, staged, changes=changes)
    sites = units_by_site(result) if night.file.settings.output.site_reports else {}
    for site, keys in sites.items():
        night.progress("writing the report of a site")
        folder = staged / SITES / site_folder(site)
        folder.mkdir(parents=True)
        own = None if changes is None else narrowed_changes(changes, result, site, keys)
        write_files(narrowed(result, site, keys), folder, changes=own)
    return content, len(sites)


def _stands(last: LastNight, digest: str, folder: Path) -> bool:
    """Whether the report that these inputs would give is the one that is there, and went everywhere."""
    report = latest_report(folder)
    if report is None or report.name != last.folder or not (report / "report.html").is_file():
        return False
    return last.digest == digest and last.delivered


def _unchanged(night: Night, ledger: sqlite3.Connection, last: LastNight, day: NightDay) -> NightOutcome:
    """The outcome of a night with nothing new: that of the night that made the report."""
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
        warnings=day.said,
        memory_mb=_memory_mb(),
    )


def _deleted(night: Night) -> tuple[str, ...]:
    """Deletes old reports; what cannot be deleted is said and costs nothing."""
    try:
        delete_old(night.file.output_folder, night.file.settings.schedule.keep_reports)
    except OSError as fault:
        return (f"An old report could not be deleted: {file_fault_line(fault)}",)
    return ()


def _failed(night: Night, message: str) -> NightOutcome:
    return NightOutcome(
        status="failed",
        exit_status=FAILED,
        seconds=night.seconds,
        message=message,
        memory_mb=_memory_mb(),
        last_good=standing_report(night.file.output_folder),
    )


def _memory_mb() -> float:
    """Most memory that this process ever held [MB]; Linux counts it in KiB."""
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0, 1)


def _now() -> datetime:
    return datetime.now().astimezone()
