"""`draincurve oils`: what the viscosities of the oils say, and which names mislead."""

from __future__ import annotations

from typing import Annotated

import typer

from draincurve.commands.command_line import (
    DONE,
    WITH_HELD_BACK,
    Quiet,
    one_clear_line,
    print_accounts,
    print_rows,
)
from draincurve.schemas.quantities import USUAL_C


def oils(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Oils: a file or a table of a database.")],
    temperature: Annotated[
        float, typer.Option("--at", metavar="C", help="Temperature of the last column.")
    ] = USUAL_C,
    quiet: Quiet = False,
) -> None:
    """Print each oil's viscosity index, viscosity at other heat and ISO grade, and names that mislead."""
    with one_clear_line():
        from datetime import datetime

        from draincurve.pipeline.describing import catalogue_file
        from draincurve.pipeline.reading.sources import source_address
        from draincurve.reports.tables.text_tables import oil_lines

        checked = catalogue_file(source_address(file), temperature, as_of=datetime.now().astimezone().date())
        if not quiet:
            print_accounts([checked.account])
            print_rows(checked.held_back.iter_rows(named=True), "held back", "reason")
            for line in oil_lines(checked.catalogue):
                typer.echo(line)
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)
