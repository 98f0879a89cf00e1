"""`draincurve simulate`: an invented fleet with its truth."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    Quiet,
    errors_on_one_line,
    say,
)


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
    with errors_on_one_line():
        from draincurve.pipeline.simulation import write_sample

        for path in write_sample(scenario, out, seed=seed, units=units, drains=drains):
            if not quiet:
                say(str(path))
