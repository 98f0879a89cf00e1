"""`draincurve springs`: the spring comparison alone."""

from __future__ import annotations

from draincurve.commands.command_line import (
    AsOf,
    Hidden,
    LogAddress,
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


def springs(
    log: LogAddress,
    oils: OilsAddress = None,
    settings: SettingsFile = None,
    as_of: AsOf = None,
    hidden: Hidden = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Does a spring choice shed more debris? The comparison alone, as a table."""
    with errors_on_one_line():
        from draincurve.pipeline.judging.springs import compare_log_springs
        from draincurve.pipeline.reading import read
        from draincurve.pipeline.stopwatch import Stopwatch
        from draincurve.reports.tables.text_tables import spring_lines

        inputs = run_inputs(log, {"oils": oils}, settings=settings, as_of=as_of, hidden=hidden)
        policy = inputs.policy()
        with progress_shown(quiet=quiet, verbose=verbose) as progress:
            watch = Stopwatch(progress)
            checked = read(inputs, policy, watch=watch)
            compared = compare_log_springs(checked, policy, watch=watch)
        if not quiet:
            print_log(checked)
            for line in (*spring_lines(compared.comparisons), *compared.unfitted):
                say(line)
    end_command(checked.faulty_count)
