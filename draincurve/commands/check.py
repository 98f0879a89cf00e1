"""`draincurve check`: what would be held back, and why."""

from __future__ import annotations

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
    refuse_workbook,
    run_inputs,
    say,
)
from draincurve.commands.reading_lines import (
    decisions,
    print_accepted,
    print_accounts,
    print_assumed,
    print_counts,
    print_findings,
    print_notes,
    print_problems,
    print_settings,
)
from draincurve.pipeline.memory_release import release_at_once_if_large

if TYPE_CHECKING:
    from draincurve.pipeline.reading import Log, RunInputs
    from draincurve.schemas.settings import Settings


def check(
    log: LogAddress,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for held_back.csv.")] = None,
    mend: Annotated[
        Path | None,
        typer.Option(
            "--mend",
            metavar="OUT.xlsx",
            help="Write the log back as a workbook, with every cell that was held back or asked about marked.",
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Let --mend write over a file that is there.")] = False,
    units: UnitsAddress = None,
    usage: UsageAddress = None,
    bookings: BookingsAddress = None,
    oils: OilsAddress = None,
    measurements: MeasurementsAddress = None,
    parts: PartsAddress = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    hidden: Hidden = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Read and validate a log; print the row accounting and every row held back."""
    release_at_once_if_large(log)
    with errors_on_one_line():
        from draincurve.pipeline.reading import read

        sides = {
            "units": units,
            "usage": usage,
            "bookings": bookings,
            "oils": oils,
            "measurements": measurements,
            "parts": parts,
        }
        inputs = run_inputs(log, sides, settings=settings, as_of=as_of, hidden=hidden)
        policy = inputs.policy()
        checked = read(inputs, policy) if mend is None else _mended(inputs, policy, mend, force=force)
        if out is not None:
            from draincurve.reports.output.report_files import write_held_back

            write_held_back(checked.held_back, checked.held_back_file, folder=out)
        if not quiet:
            _print(checked, verbose=verbose)
            if mend is not None:
                say(f"workbook to mend: {mend}")
    end_command(checked.faulty_count)


def _mended(inputs: RunInputs, policy: Settings, file: Path, *, force: bool) -> Log:
    """Read and check a log, and write it back as a workbook to mend."""
    from dataclasses import replace

    from draincurve.pipeline.reading import read, read_tables
    from draincurve.pipeline.reading.sources import SourceAddress
    from draincurve.reports.workbooks.mended.mended_workbook import MOST_ROWS, write_mended_workbook

    sources = [address.path for address in (inputs.log, *inputs.sides.values()) if isinstance(address, SourceAddress)]
    refuse_workbook(file, sources, force=force)
    inputs = replace(inputs, log_processing=replace(inputs.log_processing, held_back_in_memory=MOST_ROWS))
    tables = read_tables(inputs, policy)
    sides = {name: table for name, table in tables.items() if name != "drains"}
    checked = read(replace(inputs, log=tables["drains"], sides=sides), policy)
    write_mended_workbook(file, tables, checked, given=policy.headers)
    return checked


def _print(checked: Log, *, verbose: bool) -> None:
    """The commonest problems, then what is to be decided, then why rows are held back."""
    from draincurve.pipeline.reading.cleaning import NO_ROWS

    print_accounts(checked.accounts)
    print_accepted(checked)
    print_counts(checked)
    asked, faulty = decisions(checked), checked.reasons.filter(~checked.reasons["message"].is_in(NO_ROWS))
    print_problems(checked, asked, faulty)
    print_findings(asked, verbose=verbose)
    print_findings(checked.reasons if verbose else faulty, verbose=verbose)
    more = checked.held_back_count - checked.held_back.height
    if more:
        say(f"and {more:,} more rows held back: --out FOLDER writes them all into held_back.csv")
    print_assumed(checked)
    if verbose:
        print_findings(checked.remarks.filter(checked.remarks["kind"] == "note"), verbose=True)
    else:
        print_notes(checked)
    print_settings(checked)
