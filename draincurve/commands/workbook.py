"""`draincurve workbook`: an entry workbook for the bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    AsOf,
    Hidden,
    Quiet,
    SettingsFile,
    UnitsAddress,
    end_command,
    errors_on_one_line,
    refuse_workbook,
    run_inputs,
    say,
)
from draincurve.commands.reading_lines import print_log


def workbook(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The workbook to write, an .xlsx file.")],
    log: Annotated[
        str | None, typer.Option("--log", help="A log whose units, oils, springs and people the lists offer.")
    ] = None,
    units: UnitsAddress = None,
    settings: SettingsFile = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file that is there, entries and all.")] = False,
    as_of: AsOf = None,
    hidden: Hidden = False,
    quiet: Quiet = False,
) -> None:
    """Write an entry workbook for the bench, with drop-downs and the rating scales in words."""
    held_back = 0
    with errors_on_one_line():
        from draincurve.pipeline.reading import read
        from draincurve.reports.workbooks.entry.entry_choices import choices
        from draincurve.reports.workbooks.entry.entry_workbook import write_entry_workbook

        if log is None and (units is not None or settings is not None):
            raise typer.BadParameter("--units and --settings are read together with a log: add --log")
        sources = [Path(source) for source in (log, units, settings) if source is not None]
        refuse_workbook(file, sources, force=force)
        inputs = run_inputs(log or str(file), {"units": units}, settings=settings, as_of=as_of, hidden=hidden)
        checked = read(inputs, inputs.policy()) if log is not None else None
        offered = choices(checked.accepted if checked is not None else {})
        write_entry_workbook(file, offered, as_of=inputs.as_of)
        held_back = checked.faulty_count if checked is not None else 0
        if not quiet:
            if checked is not None:
                print_log(checked)
            if held_back:
                say("names in rows held back are not in the lists")
            if offered.too_long:
                say(f"too long for a drop-down, so not in the lists: {len(offered.too_long)} names")
            say(f"workbook: {file}")
    end_command(held_back)
