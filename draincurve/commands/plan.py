"""`draincurve plan`: the main job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from draincurve.commands.command_line import (
    AsOf,
    BookingsAddress,
    Hidden,
    LogAddress,
    MeasurementsAddress,
    OilsAddress,
    PartsAddress,
    Quiet,
    SettingsFile,
    UnitsAddress,
    UsageAddress,
    Verbose,
    end_command,
    errors_on_one_line,
    progress_shown,
    run_inputs,
    say,
)
from draincurve.commands.reading_lines import print_log
from draincurve.pipeline.memory_release import release_at_once_if_large

if TYPE_CHECKING:
    from draincurve.pipeline.reading import RunInputs
    from draincurve.reports.output.report_files import Written


def plan(
    log: LogAddress,
    out: Annotated[Path, typer.Option("--out", help="Folder for the tables and the report.")],
    units: UnitsAddress = None,
    usage: UsageAddress = None,
    bookings: BookingsAddress = None,
    oils: OilsAddress = None,
    measurements: MeasurementsAddress = None,
    parts: PartsAddress = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    hidden: Hidden = False,
    since: Annotated[
        Path | None,
        typer.Option("--since", metavar="FOLDER", help="Earlier output folder to hold the report against."),
    ] = None,
    figures: Annotated[
        Path | None,
        typer.Option("--figures", metavar="FOLDER", help="Also write each picture of the report as SVG and PNG."),
    ] = None,
    engine: Annotated[
        str | None,
        typer.Option(
            "--engine",
            metavar="ADDRESS",
            help="Where a fleet of over 2,000 units is computed: dask://HOST:PORT or local-cluster.",
        ),
    ] = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """The main job: from a service log to each unit's next-service point, with a report."""
    sides = {
        "units": units,
        "usage": usage,
        "bookings": bookings,
        "oils": oils,
        "measurements": measurements,
        "parts": parts,
    }
    release_at_once_if_large(log)
    with errors_on_one_line():
        inputs = run_inputs(log, sides, settings=settings, as_of=as_of, engine=engine, hidden=hidden)
        held_back = plan_into(inputs, out, quiet=quiet, verbose=verbose, since=since, figures=figures)
    end_command(held_back)


def plan_into(
    inputs: RunInputs,
    out: Path,
    *,
    quiet: bool,
    verbose: bool,
    since: Path | None = None,
    figures: Path | None = None,
) -> int:
    """Run the main job and write its files into a folder; return the number of rows held back.

    since : an earlier output folder, perhaps the same one, to compare with; figures : a folder for the pictures as
    files, None for none
    """
    from importlib import import_module
    from threading import Thread

    from draincurve.nightly.report_comparison import changes_between
    from draincurve.nightly.report_facts import facts_of_folder, facts_of_result
    from draincurve.pipeline.run import plan as run_plan

    # The modules that write are imported by another thread while the log is read and fitted: half a second saved.
    Thread(target=import_module, args=("draincurve.reports.output.report_files",), daemon=True).start()
    before = None if since is None else facts_of_folder(since)
    changes = None
    with progress_shown(quiet=quiet, verbose=verbose) as progress:
        result = run_plan(inputs, progress)
        if before is not None:
            changes = changes_between(before, facts_of_result(result))
        progress("writing")
        from draincurve.reports.output.report_files import write_results

        written = write_results(result, out, changes=changes)
        if figures is not None:
            from draincurve.reports.output.figure_files import write_figures

            progress("drawing figures")
            write_figures(written.content, figures)
    if not quiet:
        print_log(result.log)
        warnings = () if changes is None else [table.text for table in changes.shrunk]
        _print_written(written, warnings, timings=result.timings if verbose else {})
        say(f"report: {out / 'report.html'}")
    return result.log.faulty_count


def _print_written(written: Written, warnings: Iterable[str], *, timings: Mapping[str, float]) -> None:
    """What to do, and what to know of the report; timings : of the run, with all its warnings, if they are wanted."""
    from draincurve.reports.mail_and_calendar.terminal_text import terminal_text

    if written.unprinted:
        say(f"report.pdf: {written.unprinted}")
    for stage, seconds in timings.items():
        say(f"{stage}: {seconds:.2f} s")
    for warning in (*warnings, *(written.content.result.warnings if timings else ())):
        say(f"warning: {warning}")
    for line in ("", *terminal_text(written.content).splitlines(), ""):
        say(line)
