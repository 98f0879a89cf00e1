"""What every command shares: its options, one clear line for a fault, progress and the row accounting."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from draincurve.schemas.errors import DraincurveError, file_fault_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from draincurve.pipeline.reading import RunInputs, TableAccount

DONE, FAILED, WITH_HELD_BACK = 0, 1, 3

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
    log: str, sides: dict[str, str | None], settings: Path | None, as_of: str | None, engine: str | None = None
) -> RunInputs:
    """Where everything comes from, as named on the command line."""
    from draincurve.pipeline.reading import RunInputs
    from draincurve.pipeline.reading.sources import source_address

    return RunInputs(
        log=source_address(log),
        as_of=day_given(as_of) or datetime.now().astimezone().date(),
        sides={name: source_address(address) for name, address in sides.items() if address is not None},
        settings=settings,
        engine=engine,
    )


def day_given(text: str | None) -> date | None:
    """The day the answers are for, None where none is given."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as fault:
        raise typer.BadParameter(f"{text!r}: expected a date such as 2026-06-20", param_hint="--as-of") from fault


@contextmanager
def one_clear_line() -> Iterator[None]:
    """Turn an error of ours, or of the file system, into one line and exit status 1."""
    try:
        yield
    except DraincurveError as fault:
        fail(str(fault))
    except OSError as fault:
        fail(file_fault_line(fault))
    except KeyboardInterrupt:
        fail("stopped; nothing was written")


def fail(line: str) -> None:
    """One line on standard error, and exit status 1."""
    typer.echo(f"draincurve: {' '.join(line.split())}", err=True)
    raise typer.Exit(FAILED)


@contextmanager
def progress_told(quiet: bool, verbose: bool) -> Iterator[Callable[[str], None]]:
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


def print_accounts(accounts: Iterable[TableAccount]) -> None:
    """A line for each table: read = accepted + held back."""
    for account in accounts:
        typer.echo(
            f"{account.table} ({account.source}): read {account.read} = accepted {account.accepted} "
            f"+ held back {account.held_back}"
        )


def print_rows(rows: Iterable[dict[str, object]], word: str, said: str) -> None:
    """A line for each row held back or remarked on: where it is, what stands there, and what is said of it."""
    for row in rows:
        line = "" if row["line"] is None else f" line {row['line']}"
        kind = word or str(row["kind"])
        typer.echo(f"{kind}: {row['source']}{line}, {row['column']} = {row['value']}: {row[said]}")
