"""How earlier predictions would have held, for one log: every origin, beside both rivals."""

from __future__ import annotations

from draincurve.pipeline.fitting.random_streams import stream
from draincurve.pipeline.judging.backtest.backtest import backtest
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.reading.validating.checked_log import CheckedLog
from draincurve.pipeline.run_inputs import Progress, RunInputs, Stopwatch, read_and_check, silent

ORIGINS = 12


def backtest_log(inputs: RunInputs, progress: Progress = silent) -> tuple[BacktestResult | str, CheckedLog]:
    """The backtest of a log, or a sentence why there is none; and the checked log.

    Raises SourceError and SettingsError for input that cannot be used as a whole.
    """
    settings, checked = read_and_check(inputs, Stopwatch(progress))
    rng = stream(settings.seed, "backtest")
    return backtest(checked.accepted["drains"], settings, rng, ORIGINS, True, progress), checked
