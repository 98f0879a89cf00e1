"""`draincurve backtest`: how earlier predictions would have held."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    DONE,
    WITH_HELD_BACK,
    AsOf,
    LogAddress,
    Quiet,
    SettingsFile,
    Verbose,
    one_clear_line,
    print_accounts,
    progress_told,
    run_inputs,
)


def backtest(
    log: LogAddress,
    out: Annotated[Path, typer.Option("--out", help="Folder for backtest.csv, .json and .html.")],
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """How earlier predictions would have held: fit as of past dates, predict the drains that followed."""
    with one_clear_line():
        from draincurve.pipeline.judging.backtest import backtest as tried_earlier
        from draincurve.pipeline.judging.backtest import first_screen_sentence, holding_sentence
        from draincurve.pipeline.random_streams import stream
        from draincurve.pipeline.reading import read
        from draincurve.pipeline.stopwatch import Stopwatch
        from draincurve.reports.output.backtest_files import write_backtest

        inputs = run_inputs(log, {}, settings, as_of)
        policy = inputs.policy()
        with progress_told(quiet, verbose) as progress:
            checked = read(inputs, policy, watch=Stopwatch(progress))
            rng = stream(policy.seed, "backtest")
            result = tried_earlier(checked.accepted["drains"], policy, rng=rng, progress=progress)
            write_backtest(result, out, inputs.log_name, inputs.as_of)
        if not quiet:
            print_accounts(checked.accounts)
            said = result if isinstance(result, str) else first_screen_sentence(result) or holding_sentence(result)
            typer.echo(said)
            typer.echo(f"report: {out / 'backtest.html'}")
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)
