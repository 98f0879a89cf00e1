"""`draincurve demo`: the main job on the sample fleet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    Quiet,
    Verbose,
    errors_on_one_line,
    run_inputs,
)
from draincurve.commands.plan import plan_into


def demo(
    out: Annotated[Path, typer.Option("--out", help="Folder for the tables and the report.")],
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """The main job on the sample fleet that comes with the program: an invented race team."""
    with errors_on_one_line():
        from importlib.resources import as_file, files

        with as_file(files("draincurve.sample_data") / "race_team") as folder:
            names = ("units", "usage", "bookings", "oils", "measurements", "parts")
            sides: dict[str, str | None] = {name: str(folder / f"{name}.csv") for name in names}
            inputs = run_inputs(
                str(folder / "drains.csv"), sides, settings=folder / "settings.toml", as_of="2026-06-20"
            )
            plan_into(inputs, out, quiet=quiet, verbose=verbose)
