"""`draincurve springs`: the spring comparison alone."""

from __future__ import annotations

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


def springs(
    log: LogAddress,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Does a spring choice shed more debris? The comparison alone, as a table."""
    with one_clear_line():
        from draincurve.pipeline.judging.springs import compare_log_springs
        from draincurve.pipeline.reading import read
        from draincurve.pipeline.stopwatch import Stopwatch
        from draincurve.reports.tables.text_tables import spring_lines

        inputs = run_inputs(log, {}, settings, as_of)
        policy = inputs.policy()
        with progress_told(quiet, verbose) as progress:
            watch = Stopwatch(progress)
            checked = read(inputs, policy, watch=watch)
            found = compare_log_springs(checked, policy, watch=watch)
        if not quiet:
            print_accounts(checked.accounts)
            for line in (*spring_lines(found.comparisons), *found.unfitted):
                typer.echo(line)
    raise typer.Exit(WITH_HELD_BACK if checked.held_back.height else DONE)
