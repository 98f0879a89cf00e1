"""What commands share: options, inputs, one line for an error, progress, exit status."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from draincurve.exit_status import DONE, FAILED, WITH_HELD_BACK
from draincurve.schemas.errors import DraincurveError, HeaderError, SourceError, file_fault_line
from draincurve.schemas.shown_text import shown

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

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
MeasurementsAddress = Annotated[
    str | None, typer.Option("--measurements", help="Measured values, or a laboratory's report.")
]
PartsAddress = Annotated[str | None, typer.Option("--parts", help="Parts: when fitted, the maker's longest life.")]
SettingsFile = Annotated[Path | None, typer.Option("--settings", help="The shop's policy, a TOML file.")]
AsOf = Annotated[str | None, typer.Option("--as-of", metavar="YYYY-MM-DD", help="Day the answers are for; today.")]
Hidden = Annotated[bool, typer.Option("--hidden", help="Read the hidden sheets and rows of a workbook too.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]
Verbose = Annotated[bool, typer.Option("--verbose", help="Print stages, seconds and warnings too.")]


def run_inputs(
    log: str,
    sides: dict[str, str | None],
    *,
    settings: Path | None,
    as_of: str | None,
    engine: str | None = None,
    hidden: bool = False,
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
        hidden=hidden,
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
    except HeaderError as fault:
        fail(str(fault), setting=fault.setting)
    except DraincurveError as fault:
        fail(str(fault))
    except BrokenPipeError as fault:
        # Whoever reads what is printed has had enough; nothing more can be said to them.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(FAILED) from fault
    except OSError as fault:
        fail(file_fault_line(fault))
    except KeyboardInterrupt:
        fail("stopped; nothing was written")


def fail(line: str, *, setting: str | None = None) -> NoReturn:
    """Print one line on standard error, below it the settings that may correct it, and exit with status 1."""
    say(f"draincurve: {' '.join(line.split())}", error=True)
    for part in (setting or "").splitlines():
        say(part, error=True)
    raise typer.Exit(FAILED)


def say(line: str, *, error: bool = False, wrap: bool = False) -> None:
    """Print one line, with nothing in it that acts on a terminal or hides; every line of a command goes this way.

    error : on standard error.  wrap : break the line between words where a terminal is too narrow for it
    """
    text = shown(line)
    if wrap and sys.stdout.isatty():
        indent = " " * (len(text) - len(text.lstrip()) + 4)
        width = shutil.get_terminal_size().columns
        text = textwrap.fill(text, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    typer.echo(text, err=error)


def refuse_workbook(file: Path, sources: Sequence[Path], *, force: bool) -> None:
    """Raise SourceError for a workbook that must not be written.

    sources : files that are read.  force : whether a file that is there may be written over
    """
    if file.suffix.lower() != ".xlsx":
        raise SourceError(f"{file}: the name does not end in .xlsx, so no spreadsheet would open it; add it")
    if not file.parent.is_dir():
        raise SourceError(f"{file}: no such folder; make {file.parent} first, or name another")
    if any(source.exists() and file.exists() and file.samefile(source) for source in sources):
        raise SourceError(f"{file}: is one of the files that are read; name another for the workbook")
    if file.is_dir():
        raise SourceError(f"{file}: is a folder; name a file in it")
    if file.exists() and not force:
        raise SourceError(f"{file}: is there already; name another file, or add --force to write over it")


@contextmanager
def progress_shown(*, quiet: bool, verbose: bool) -> Iterator[Callable[[str], None]]:
    """A function that shows the stage of a run: on a terminal, and elsewhere only where `verbose` is set."""
    if quiet or not (sys.stderr.isatty() or verbose):
        yield lambda _: None
        return
    if not sys.stderr.isatty():
        yield lambda stage: say(f"{stage} ...", error=True)
        return
    from rich.console import Console
    from rich.status import Status

    with Status("starting", console=Console(stderr=True)) as status:
        yield lambda stage: status.update(stage)


def end_command(held_back: int) -> NoReturn:
    """Exit with the status of a command that is done; held_back : number of rows that were held back."""
    raise typer.Exit(WITH_HELD_BACK if held_back else DONE)
