"""`draincurve check`: what would be held back, and why."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    DONE,
    WITH_HELD_BACK,
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
    one_clear_line,
    print_accounts,
    print_rows,
    run_inputs,
)
from draincurve.pipeline.memory_release import release_at_once_if_large


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
    with one_clear_line():
        from draincurve.pipeline.reading import read
        from draincurve.reports.output.report_files import write_held_back

        sides = {"units": units, "usage": usage, "bookings": bookings, "oils": oils, "measurements": measurements}
        inputs = run_inputs(log, sides, settings, as_of)
        checked = read(inputs, inputs.policy())
        if out is not None:
            write_held_back(checked.held_back, checked.held_back_file, out)
        if not quiet:
            print_accounts(checked.accounts)
            print_rows(checked.held_back.iter_rows(named=True), "held back", "reason")
            if checked.held_back_file is not None:
                more = checked.held_back_file.height - checked.held_back.height
                typer.echo(f"and {more:,} more rows held back; --out FOLDER writes them all into held_back.csv")
            if verbose:
                print_rows(checked.remarks.iter_rows(named=True), "", "message")
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)
