"""`draincurve history`: the history of a unit over the nightly runs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import errors_on_one_line, say
from draincurve.exit_status import DONE, FAILED
from draincurve.schemas.errors import SourceError

GOOD_ENDS = ("good", "unchanged")
"""Statuses of runs after which the report is that of the newest inputs."""


def history(
    unit: Annotated[
        str | None, typer.Argument(metavar="UNIT", help="Unit to follow; without one, the trend of every unit.")
    ] = None,
    settings: Annotated[
        Path | None, typer.Option("--settings", help="Settings of the nightly run, a TOML file.")
    ] = None,
    ledger: Annotated[Path | None, typer.Option("--ledger", help="The ledger itself.")] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the last run and the last report as a line of JSON, for monitoring.")
    ] = False,
) -> None:
    """A unit's interval, standing and due date over the nightly runs, its projected wear and its parts.

    Without --settings and --ledger it takes the one ledger in this folder or in a folder of it. With --json the exit
    status is 1 where the last run left no good report.
    """
    if settings is not None and ledger is not None:
        raise typer.BadParameter(
            "name the settings of the nightly run or the ledger, not both", param_hint="--ledger"
        )
    if as_json and unit is not None:
        raise typer.BadParameter("it is about all units; leave UNIT or --json out", param_hint="--json")
    with errors_on_one_line():
        from draincurve.nightly.history_lines import (
            last_run_lines,
            parts_lines,
            trend_lines,
            unit_history_lines,
            wear_lines,
        )
        from draincurve.nightly.ledger import open_ledger
        from draincurve.nightly.ledger_queries import interval_trends, ledger_state, unit_history, unit_names_known
        from draincurve.nightly.wear_and_parts import parts_history, wear_history
        from draincurve.schemas.nightly_settings import read_nightly

        path = read_nightly(settings).ledger if settings is not None else ledger or _only_ledger(Path())
        with open_ledger(path, create=False) as opened:
            state = ledger_state(opened)
            good = bool(state["last_run"] and state["last_run"]["status"] in GOOD_ENDS)
            if as_json:
                say(json.dumps(state))
                raise typer.Exit(DONE if good else FAILED)
            if unit is None:
                lines = trend_lines(interval_trends(opened))
            else:
                lines = [
                    *unit_history_lines(unit, unit_history(opened, unit), known=unit_names_known(opened)),
                    *wear_lines(wear_history(opened, unit)),
                    *parts_lines(parts_history(opened, unit)),
                ]
        for line in (*lines, *last_run_lines(state["last_run"], good=good)):
            say(line)


def _only_ledger(folder: Path) -> Path:
    """The only ledger in the folder or one level below it."""
    from draincurve.schemas.nightly_settings import LEDGER

    ledgers = sorted([*folder.glob(LEDGER), *folder.glob(f"*/{LEDGER}")])
    if len(ledgers) != 1:
        what = "no ledger of nightly runs is" if not ledgers else f"{len(ledgers)} ledgers of nightly runs are"
        raise SourceError(f"{what} in this folder; name one by --settings or --ledger")
    return ledgers[0]
