"""`draincurve oils`: what the viscosities of the oils say, and which names mislead."""

from __future__ import annotations

from typing import Annotated

import typer

from draincurve.commands.command_line import (
    Quiet,
    end_command,
    errors_on_one_line,
    say,
    today,
)
from draincurve.commands.reading_lines import print_accounts, print_held_back
from draincurve.schemas.quantities import USUAL_C


def oils(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Oils: a file or a table of a database.")],
    temperature: Annotated[
        float, typer.Option("--at", metavar="C", help="Temperature of the last column.")
    ] = USUAL_C,
    quiet: Quiet = False,
) -> None:
    """Print each oil's viscosity index, viscosity at another temperature and ISO grade, and names that mislead."""
    with errors_on_one_line():
        from draincurve.pipeline.describing import catalogue_file
        from draincurve.pipeline.reading.sources import source_address
        from draincurve.reports.tables.text_tables import oil_lines

        checked = catalogue_file(source_address(file), temperature, as_of=today())
        if not quiet:
            print_accounts([checked.account])
            print_held_back(checked.held_back)
            for line in oil_lines(checked.catalogue):
                say(line)
    end_command(checked.held_back.height)
