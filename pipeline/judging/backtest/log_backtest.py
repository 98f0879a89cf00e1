"""The backtest of a whole log: its ratings, and its measured values where it has any."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.describing import known_drains, measured_series, processing_of, second_ratings_in_fit
from draincurve.pipeline.judging.backtest.backtest_verdicts import first_screen_sentence, holding_sentence
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.judging.backtest.measured_backtest import backtest_measured
from draincurve.pipeline.judging.backtest.quantity_backtest import MeasuredBacktest
from draincurve.pipeline.judging.backtest.rolling_origin import ORIGINS, backtest
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.reading import Log
from draincurve.pipeline.stopwatch import Progress, silent
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class LogBacktest:
    """rated : of the ratings, or why none could be tested; measured : None for a log without measured values."""

    rated: BacktestResult | str
    measured: MeasuredBacktest | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """Whether predictions of ratings held, or why none could be tested, and the same for measured values."""
        rated = self.rated
        if not isinstance(rated, str):
            rated = first_screen_sentence(rated) or holding_sentence(rated)
        return (rated,) if self.measured is None else (rated, self.measured.sentence)


def backtest_log(log: Log, settings: Settings, *, origins: int = ORIGINS, progress: Progress = silent) -> LogBacktest:
    """How earlier predictions of a log would have held; origins, progress : as in `backtest`.

    Raises SettingsError for a wear limit that cannot be read.
    """
    drains = log.accepted["drains"]
    rng, oils = stream(settings.seed, "backtest"), log.accepted.get("oils")
    rated = backtest(
        drains,
        settings,
        rng=rng,
        origins=origins,
        progress=progress,
        oils=oils,
        second_ratings=second_ratings_in_fit(log, processing_of(log)),
    )
    series = measured_series(log, known_drains(drains), settings)
    measured = backtest_measured(series, settings, origins=origins, progress=progress) if series else None
    return LogBacktest(rated, measured)
