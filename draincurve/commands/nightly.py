"""`draincurve nightly`: the batch run."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    AsOf,
    Quiet,
    Verbose,
    day_given,
    errors_on_one_line,
    fail,
    progress_shown,
    say,
)
from draincurve.exit_status import FAILED


def nightly(
    settings: Annotated[
        Path | None, typer.Argument(metavar="SETTINGS", help="Settings of the nightly run, a TOML file.")
    ] = None,
    init: Annotated[
        Path | None, typer.Option("--init", metavar="FILE", help="Write a commented settings file, and do no more.")
    ] = None,
    as_of: AsOf = None,
    force: Annotated[bool, typer.Option("--force", help="Make the report anew even if nothing has changed.")] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print one line of JSON, as is done where there is no terminal.")
    ] = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """The batch run: a report for each site and over all, swapped in whole, remembered and delivered."""
    if (settings is None) == (init is None):
        raise typer.BadParameter("name a settings file, or --init and a file to write", param_hint="SETTINGS")
    with errors_on_one_line():
        if init is not None:
            from draincurve.nightly.commented_settings import write_commented_settings

            write_commented_settings(init)
            if not quiet:
                say(f"written: {init}")
            return
    if settings is not None:
        with errors_on_one_line():
            _run(settings, as_of, force=force, as_json=as_json, quiet=quiet, verbose=verbose)


def _run(settings: Path, as_of: str | None, *, force: bool, as_json: bool, quiet: bool, verbose: bool) -> None:
    """Run one night and print its outcome: for people on a terminal, else as one line of JSON."""
    started_s = time.perf_counter()
    day = day_given(as_of)
    with progress_shown(quiet=quiet, verbose=verbose) as progress:
        from draincurve.nightly.night_clock import present_moment
        from draincurve.nightly.night_outcome import NightOutcome, outcome_json
        from draincurve.nightly.outcome_text import outcome_text
        from draincurve.schemas.errors import DraincurveError
        from draincurve.schemas.nightly_settings import read_nightly

        started = present_moment()
        try:
            file = read_nightly(settings)
        except DraincurveError as fault:
            outcome = NightOutcome(
                "failed", FAILED, time.perf_counter() - started_s, message=" ".join(str(fault).split())
            )
            last_report = "whatever report is there stays"
        else:
            from draincurve.nightly.night import run_night
            from draincurve.nightly.night_run import NightRun

            outcome = run_night(NightRun(file, day, force, started, started_s, progress))
            good = outcome.last_good
            last_report = "there is no earlier report" if good is None else good.age_text(present_moment().at)
    if not quiet:
        if as_json or not sys.stdout.isatty():
            say(outcome_json(outcome))
        else:
            for line in outcome_text(outcome):
                say(line, wrap=True)
    if outcome.message:
        fail(f"{outcome.message}; {last_report}", setting=outcome.setting)
    raise typer.Exit(outcome.exit_status)
