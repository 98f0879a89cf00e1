"""`draincurve history`: a unit's course over the nightly runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipeline.commands.command_line import one_clear_line


def history(
    unit: Annotated[
        str | None, typer.Argument(metavar="UNIT", help="Unit to follow; without one, the trend of every unit.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option("--settings", help="Settings of the nightly run, a TOML file.")
    ] = None,
    ledger: Annotated[Path | None, typer.Option("--ledger", help="The ledger itself.")] = None,
) -> None:
    """A unit's interval, standing and due date over the nightly runs."""
    if (settings is None) == (ledger is None):
        raise typer.BadParameter("name the settings of the nightly run, or the ledger", param_hint="--settings")
    with one_clear_line():
        from pipeline.nightly.history_lines import course_lines, trend_lines
        from pipeline.nightly.ledger import open_ledger
        from pipeline.nightly.ledger_queries import interval_trends, unit_course, unit_names_known
        from schemas.nightly_settings import read_nightly

        path = ledger if ledger is not None else read_nightly(settings or Path()).ledger
        with open_ledger(path, create=False) as opened:
            if unit is None:
                lines = trend_lines(interval_trends(opened))
            else:
                lines = course_lines(unit, unit_course(opened, unit), unit_names_known(opened))
    for line in lines:
        typer.echo(line)
