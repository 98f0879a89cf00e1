"""`draincurve backtest`: how earlier predictions would have held."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from draincurve.commands.command_line import (
    AsOf,
    Hidden,
    LogAddress,
    MeasurementsAddress,
    OilsAddress,
    Quiet,
    SettingsFile,
    Verbose,
    end_command,
    errors_on_one_line,
    progress_shown,
    run_inputs,
    say,
)
from draincurve.commands.reading_lines import print_log


def backtest(
    log: LogAddress,
    out: Annotated[Path, typer.Option("--out", help="Folder for its tables, backtest.json and backtest.html.")],
    oils: OilsAddress = None,
    measurements: MeasurementsAddress = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    hidden: Hidden = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """How earlier predictions would have held: fit as of past dates, predict the drains and values that followed."""
    with errors_on_one_line():
        from draincurve.pipeline.judging.backtest import backtest_log
        from draincurve.pipeline.reading import read
        from draincurve.pipeline.stopwatch import Stopwatch
        from draincurve.reports.output.backtest_files import write_backtest

        inputs = run_inputs(
            log, {"oils": oils, "measurements": measurements}, settings=settings, as_of=as_of, hidden=hidden
        )
        policy = inputs.policy()
        with progress_shown(quiet=quiet, verbose=verbose) as progress:
            checked = read(inputs, policy, watch=Stopwatch(progress))
            result = backtest_log(checked, policy, progress=progress)
            write_backtest(result, out, log_name=inputs.log_name, as_of=inputs.as_of)
        if not quiet:
            print_log(checked)
            for sentence in result.sentences:
                say(sentence)
            say(f"report: {out / 'backtest.html'}")
    end_command(checked.faulty_count)
