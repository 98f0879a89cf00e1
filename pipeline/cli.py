"""Commands only: parse, call, print, exit status.

Exit status: 0 done; 1 failed, with one clear line on standard error and nothing half-written; 2 wrong usage;
3 done, but rows were held back. Heavy libraries are imported inside the commands, so that help comes at once.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from schemas.errors import DraincurveError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from pipeline.plan_result import TableAccount
    from pipeline.run_inputs import RunInputs

DONE, FAILED, WITH_HELD_BACK = 0, 1, 3

# Threads of the compiled fit that wait must not spin: on a shared machine that costs more than it saves.
os.environ.setdefault("OMP_WAIT_POLICY", "PASSIVE")

app = typer.Typer(
    help="From a service log to how many hours each suspension unit may run before its oil is no longer fit.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

LogFile = Annotated[Path, typer.Argument(metavar="LOG", help="Service log: CSV, XLSX or Parquet.")]
UnitsFile = Annotated[Path | None, typer.Option("--units", help="Register of units.")]
UsageFile = Annotated[Path | None, typer.Option("--usage", help="Hours ridden by unit and day.")]
BookingsFile = Annotated[Path | None, typer.Option("--bookings", help="Booked events with planned hours.")]
OilsFile = Annotated[Path | None, typer.Option("--oils", help="Oil grades and their viscosities.")]
MeasurementsFile = Annotated[Path | None, typer.Option("--measurements", help="Measured values.")]
SettingsFile = Annotated[Path | None, typer.Option("--settings", help="The shop's policy, a TOML file.")]
AsOf = Annotated[str | None, typer.Option("--as-of", metavar="YYYY-MM-DD", help="Day the answers are for; today.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]
Verbose = Annotated[bool, typer.Option("--verbose", help="Print stages, seconds and warnings too.")]


@app.command()
def check(
    log: LogFile,
    out: Annotated[Path | None, typer.Option("--out", help="Folder for held_back.csv.")] = None,
    units: UnitsFile = None,
    usage: UsageFile = None,
    bookings: BookingsFile = None,
    oils: OilsFile = None,
    measurements: MeasurementsFile = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Read and validate a log; print the row accounting and every row held back."""
    with _one_clear_line():
        from pipeline.run import check as run_check
        from reports.output import write_held_back

        sides = {"units": units, "usage": usage, "bookings": bookings, "oils": oils, "measurements": measurements}
        checked = run_check(_inputs(log, sides, settings, as_of))
        if out is not None:
            write_held_back(checked.held_back, out)
        if not quiet:
            _print_accounts(checked.accounts)
            _print_rows(checked.held_back.iter_rows(named=True), "held back", "reason")
            if verbose:
                _print_rows(checked.remarks.iter_rows(named=True), "", "message")
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)


@app.command()
def plan(
    log: LogFile,
    out: Annotated[Path, typer.Option("--out", help="Folder for the tables and the report.")],
    units: UnitsFile = None,
    usage: UsageFile = None,
    bookings: BookingsFile = None,
    oils: OilsFile = None,
    measurements: MeasurementsFile = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """The main job: from a service log to each unit's next-service point, with a report."""
    sides = {"units": units, "usage": usage, "bookings": bookings, "oils": oils, "measurements": measurements}
    with _one_clear_line():
        held_back = _plan_into(_inputs(log, sides, settings, as_of), out, quiet, verbose)
    raise typer.Exit(WITH_HELD_BACK if held_back else DONE)


@app.command()
def springs(
    log: LogFile,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Does a spring choice shed more debris? The comparison alone, as a table."""
    with _one_clear_line():
        from pipeline.run_springs import compare_log_springs
        from reports.spring_lines import spring_lines

        with _progress(quiet, verbose) as progress:
            found = compare_log_springs(_inputs(log, {}, settings, as_of), progress)
        if not quiet:
            _print_accounts(found.checked.accounts)
            for line in (*spring_lines(found.comparisons), *found.unfitted):
                typer.echo(line)
    raise typer.Exit(WITH_HELD_BACK if found.checked.held_back.height else DONE)


@app.command()
def backtest(
    log: LogFile,
    out: Annotated[Path, typer.Option("--out", help="Folder for backtest.csv, .json and .html.")],
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """How earlier predictions would have held: fit as of past dates, predict the drains that followed."""
    with _one_clear_line():
        from pipeline.judging.backtest.verdicts import first_screen_sentence, holding_sentence
        from pipeline.run_backtest import backtest_log
        from reports.backtest_report import write_backtest

        inputs = _inputs(log, {}, settings, as_of)
        with _progress(quiet, verbose) as progress:
            result, checked = backtest_log(inputs, progress)
            write_backtest(result, out, log.name, inputs.as_of)
        if not quiet:
            _print_accounts(checked.accounts)
            said = result if isinstance(result, str) else first_screen_sentence(result) or holding_sentence(result)
            typer.echo(said)
            typer.echo(f"report: {out / 'backtest.html'}")
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)


@app.command()
def demo(
    out: Annotated[Path, typer.Option("--out", help="Folder for the tables and the report.")],
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """The main job on the sample fleet that comes with the program: an invented race team."""
    with _one_clear_line():
        from importlib.resources import as_file, files

        with as_file(files("sample_data") / "race_team") as folder:
            sides: dict[str, Path | None] = {name: folder / f"{name}.csv" for name in ("units", "usage", "bookings")}
            inputs = _inputs(folder / "drains.csv", sides, folder / "settings.toml", "2026-06-20")
            _plan_into(inputs, out, quiet, verbose)


@app.command()
def simulate(
    out: Annotated[Path, typer.Option("--out", help="Folder for the invented fleet.")],
    scenario: Annotated[
        str, typer.Option("--scenario", help="race_team, spring_trial or track_school.")
    ] = "race_team",
    seed: Annotated[int | None, typer.Option("--seed", min=0, help="Start of the random numbers.")] = None,
    units: Annotated[int | None, typer.Option("--units", min=1, help="Number of units.")] = None,
    drains: Annotated[int | None, typer.Option("--drains", min=1, help="Number of drains over the fleet.")] = None,
    quiet: Quiet = False,
) -> None:
    """Write an invented fleet, with its truth beside it."""
    with _one_clear_line():
        from pipeline.simulation.fleet_files import write_sample

        for path in write_sample(scenario, out, seed=seed, units=units, drains=drains):
            if not quiet:
                typer.echo(str(path))


def main() -> None:
    """Entry point of the `draincurve` command."""
    # A run is short and makes few cycles; looking for them while libraries load costs more than it frees.
    gc.set_threshold(200_000, 50, 50)
    atexit.register(gc.freeze)
    app()


def _plan_into(inputs: RunInputs, out: Path, quiet: bool, verbose: bool) -> int:
    """Run the main job into a folder; returns the number of rows held back."""
    from pipeline.run import plan as run_plan
    from reports.output import write_results

    with _progress(quiet, verbose) as progress:
        result = run_plan(inputs, progress)
        progress("writing")
        write_results(result, out)
    if not quiet:
        _print_accounts(result.accounts)
        if verbose:
            for stage, seconds in result.timings.items():
                typer.echo(f"{stage}: {seconds:.2f} s")
            for warning in result.warnings:
                typer.echo(f"warning: {warning}")
        typer.echo(f"report: {out / 'report.html'}")
    return int(result.held_back.height)


def _inputs(log: Path, sides: dict[str, Path | None], settings: Path | None, as_of: str | None) -> RunInputs:
    from pipeline.run_inputs import RunInputs

    return RunInputs(
        log=log,
        as_of=_day(as_of),
        sides={name: path for name, path in sides.items() if path is not None},
        settings=settings,
    )


def _day(text: str | None) -> date:
    """The day the answers are for."""
    if text is None:
        return datetime.now().astimezone().date()
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(f"{text!r}: expected a date such as 2026-06-20", param_hint="--as-of") from fault


@contextmanager
def _one_clear_line() -> Iterator[None]:
    """Turn an error of ours, or of the file system, into one line and exit status 1."""
    try:
        yield
    except DraincurveError as fault:
        _fail(str(fault))
    except OSError as fault:
        _fail(f"{fault.filename or 'file'}: {fault.strerror or fault}; check the folder, its space and its rights")
    except KeyboardInterrupt:
        _fail("stopped; nothing was written")


def _fail(line: str) -> None:
    typer.echo(f"draincurve: {' '.join(line.split())}", err=True)
    raise typer.Exit(FAILED)


@contextmanager
def _progress(quiet: bool, verbose: bool) -> Iterator[Callable[[str], None]]:
    """Tell stages on a terminal; on anything else only when asked to be verbose."""
    if quiet or not (sys.stderr.isatty() or verbose):
        yield lambda _: None
        return
    if not sys.stderr.isatty():
        yield lambda stage: typer.echo(f"{stage} ...", err=True)
        return
    from rich.console import Console
    from rich.status import Status

    with Status("starting", console=Console(stderr=True)) as status:
        yield lambda stage: status.update(stage)


def _print_accounts(accounts: Iterable[TableAccount]) -> None:
    for account in accounts:
        typer.echo(
            f"{account.table} ({account.source}): read {account.read} = accepted {account.accepted} "
            f"+ held back {account.held_back}"
        )


def _print_rows(rows: Iterable[dict[str, object]], word: str, said: str) -> None:
    for row in rows:
        line = "" if row["line"] is None else f" line {row['line']}"
        kind = word or str(row["kind"])
        typer.echo(f"{kind}: {row['source']}{line}, {row['column']} = {row['value']}: {row[said]}")
