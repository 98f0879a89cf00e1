"""`draincurve check`: what would be held back, and why."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from draincurve.commands.command_line import (
    AsOf,
    BookingsAddress,
    LogAddress,
    MeasurementsAddress,
    OilsAddress,
    Quiet,
    SettingsFile,
    UnitsAddress,
    UsageAddress,
    Verbose,
    end_command,
    errors_on_one_line,
    run_inputs,
    say,
)
from draincurve.commands.reading_lines import print_accounts, print_findings, print_notes, print_problems
from draincurve.pipeline.memory_release import release_at_once_if_large

if TYPE_CHECKING:
    from draincurve.pipeline.reading import Log


def check(
    log: LogAddress,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for held_back.csv.")] = None,
    units: UnitsAddress = None,
    usage: UsageAddress = None,
    bookings: BookingsAddress = None,
    oils: OilsAddress = None,
    measurements: MeasurementsAddress = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Read and validate a log; print the row accounting and every row held back."""
    release_at_once_if_large(log)
    with errors_on_one_line():
        from draincurve.pipeline.reading import read

        sides = {"units": units, "usage": usage, "bookings": bookings, "oils": oils, "measurements": measurements}
        inputs = run_inputs(log, sides, settings=settings, as_of=as_of)
        checked = read(inputs, inputs.policy())
        if out is not None:
            from draincurve.reports.output.report_files import write_held_back

            write_held_back(checked.held_back, checked.held_back_file, folder=out)
        if not quiet:
            _print(checked, verbose=verbose)
    end_command(checked.held_back.height)


def _print(checked: Log, *, verbose: bool) -> None:
    """What matters first, then row by row."""
    print_accounts(checked.accounts)
    print_problems(checked)
    print_findings(checked.reasons, verbose=verbose)
    more = checked.held_back_count - checked.held_back.height
    if more:
        say(f"and {more:,} more rows held back: --out FOLDER writes them all into held_back.csv")
    print_findings(checked.asked, verbose=verbose)
    if verbose:
        print_findings(checked.remarks.filter(checked.remarks["kind"] == "note"), verbose=True)
    else:
        print_notes(checked)
