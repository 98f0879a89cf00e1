"""All files of a run, written whole or not at all."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading import HeldBackFile
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.mail_and_calendar.service_calendar import write_calendar
from draincurve.reports.output.output_folder import swapped_in
from draincurve.reports.output.run_record import write_run_record
from draincurve.reports.page.page_writer import write_page
from draincurve.reports.print_edition.report_pdf import write_pdf
from draincurve.reports.print_edition.work_list_pdf import write_work_list
from draincurve.reports.tables.csv_tables import write_held_back_table, write_tables
from draincurve.reports.workbooks.result.result_workbook import write_result_workbook
from draincurve.schemas.held_back_table import checked_held_back


@dataclass(frozen=True, slots=True)
class Written:
    """What a report says; unprinted : letters that no font has, in one sentence, empty where all are printed."""

    content: ReportContent
    unprinted: str


def write_results(result: PlanResult, folder: Path, *, changes: ReportChanges | None = None) -> Written:
    """Writes every file of a run into `folder`; returns what was written.

    changes : since an earlier report, if there is one to compare with. Raises ContractError where a table breaks its
    schema and SourceError where the folder cannot be written to.
    """
    with swapped_in(folder) as staged:
        return write_files(result, staged, changes=changes)


def write_files(result: PlanResult, folder: Path, *, changes: ReportChanges | None = None) -> Written:
    """Writes every file of one report into an existing folder; returns what was written.

    changes : as in `write_results`. Raises ContractError where a table breaks its schema, OSError where a file cannot
    be written.
    """
    content = report_content(result, changes=changes)
    # The printed edition is typeset outside Python's lock, so the other files are written at the same time.
    with ThreadPoolExecutor(max_workers=1) as thread:
        printed = thread.submit(write_pdf, content, folder / "report.pdf")
        tables = write_tables(result, folder)
        write_result_workbook(result, folder / "tables.xlsx", tables=tables, work=content.work)
        write_work_list(content, folder / "work_list.pdf")
        write_calendar(result, folder / "service.ics")
        write_run_record(result, folder / "run.json", changes=changes)
        write_page(content, folder / "report.html")
        unprinted = printed.result()
    return Written(content, unprinted)


def write_held_back(held_back: pl.DataFrame, all_rows: HeldBackFile | None, *, folder: Path) -> None:
    """Writes held_back.csv alone, replacing an earlier one; other files in `folder` are kept."""
    folder.mkdir(parents=True, exist_ok=True)
    staged = folder / ".held_back.csv"
    write_held_back_table(checked_held_back(held_back), all_rows, path=staged)
    staged.replace(folder / "held_back.csv")
