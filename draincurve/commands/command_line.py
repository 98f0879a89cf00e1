"""What commands share: options, inputs, one line for an error, progress, exit status."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from draincurve.exit_status import DONE, FAILED, WITH_HELD_BACK
from draincurve.schemas.errors import DraincurveError, file_fault_line
from draincurve.schemas.shown_text import shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from draincurve.pipeline.reading import RunInputs

LogAddress = Annotated[
    str,
    typer.Argument(
        metavar="LOG",
        help="Service log: a CSV, XLSX, Parquet or SQLite file, a pattern of files, sqlite:FILE#TABLE, or "
        "postgresql://USER@HOST/DATABASE#TABLE.",
    ),
]
UnitsAddress = Annotated[str | None, typer.Option("--units", help="Register of units.")]
UsageAddress = Annotated[str | None, typer.Option("--usage", help="Hours ridden by unit and day.")]
BookingsAddress = Annotated[str | None, typer.Option("--bookings", help="Booked events with planned hours.")]
OilsAddress = Annotated[str | None, typer.Option("--oils", help="Oil grades and their viscosities.")]
MeasurementsAddress = Annotated[str | None, typer.Option("--measurements", help="Measured values.")]
SettingsFile = Annotated[Path | None, typer.Option("--settings", help="The shop's policy, a TOML file.")]
AsOf = Annotated[str | None, typer.Option("--as-of", metavar="YYYY-MM-DD", help="Day the answers are for; today.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]
Verbose = Annotated[bool, typer.Option("--verbose", help="Print stages, seconds and warnings too.")]


def run_inputs(
    log: str, sides: dict[str, str | None], *, settings: Path | None, as_of: str | None, engine: str | None = None
) -> RunInputs:
    """The inputs of a run, as named on the command line; sides : address of each side table, by its name."""
    from draincurve.pipeline.reading import RunInputs
    from draincurve.pipeline.reading.sources import source_address

    return RunInputs(
        log=source_address(log),
        as_of=day_given(as_of) or today(),
        sides={name: source_address(address) for name, address in sides.items() if address is not None},
        settings=settings,
        engine=engine,
    )


def today() -> date:
    """The local date."""
    return datetime.now().astimezone().date()


def day_given(text: str | None) -> date | None:
    """The day of --as-of; None where it is not given."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(f"{text!r}: expected a date such as 2026-06-20", param_hint="--as-of") from fault


@contextmanager
def errors_on_one_line() -> Iterator[None]:
    """Turn an error of ours, or of the file system, into one line on standard error and exit status 1."""
    try:
        yield
    except DraincurveError as fault:
        fail(str(fault))
    except OSError as fault:
        fail(file_fault_line(fault))
    except KeyboardInterrupt:
        fail("stopped; nothing was written")


def fail(line: str) -> NoReturn:
    """Print one line on standard error and exit with status 1."""
    say(f"draincurve: {' '.join(line.split())}", error=True)
    raise typer.Exit(FAILED)


def say(line: str, *, error: bool = False) -> None:
    """Print one line, with nothing in it that acts on a terminal or hides; every line of a command goes this way.

    error : on standard error
    """
    typer.echo(shown(line), err=error)


@contextmanager
def progress_shown(*, quiet: bool, verbose: bool) -> Iterator[Callable[[str], None]]:
    """A function that shows the stage of a run: on a terminal, and elsewhere only where `verbose` is set."""
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


def end_command(held_back: int) -> NoReturn:
    """Exit with the status of a command that is done; held_back : number of rows that were held back."""
    raise typer.Exit(WITH_HELD_BACK if held_back else DONE)
