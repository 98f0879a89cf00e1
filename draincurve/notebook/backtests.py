"""The backtest for a notebook: how earlier predictions would have held."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import polars as pl

from draincurve.notebook.notebook_inputs import (
    DayInput,
    SettingsInput,
    TableInput,
    checked_folder,
    frame_of,
    whole_number,
)
from draincurve.notebook.read_log import ReadLog, log_of
from draincurve.pipeline.judging.backtest import LogBacktest, backtest_log
from draincurve.schemas import backtest_measured_table, backtest_table


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Backtest:
    """What `backtest` found.

    result : its `rated` has scores, calibration and verdict of each channel, or is a sentence where none could be
    tried; its `measured` has the same of each measured quantity, None for a log without measurements

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=48)
    >>> tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    >>> print(tried.summary[:41])
    Too early to say whether predictions hold
    """

    log: ReadLog
    result: LogBacktest
    frames: str

    @property
    def predictions(self) -> Any:
        """Frame with one row for each drain and channel that was predicted: the risk, and what came."""
        rated = self.result.rated
        rows = pl.DataFrame(schema=list(backtest_table.COLUMNS)) if isinstance(rated, str) else rated.rows
        return frame_of(rows, self.frames)

    @property
    def measured_predictions(self) -> Any:
        """Frame with one row for each measured value that was predicted: its 90 % range, what came, its scores."""
        measured = self.result.measured
        rows = pl.DataFrame(schema=list(backtest_measured_table.COLUMNS)) if measured is None else measured.rows
        return frame_of(rows, self.frames)

    @property
    def summary(self) -> str:
        """Whether the predictions held, or why none could be tried."""
        return " ".join(self.result.sentences)

    @property
    def verdicts(self) -> dict[str, str]:
        """Some sentences on each channel and each measured quantity that was tried, by its name."""
        rated, measured = self.result.rated, self.result.measured
        channels = {} if isinstance(rated, str) else {result.channel: result.verdict for result in rated.channels}
        return channels | (
            {} if measured is None else {result.name: result.verdict for result in measured.quantities}
        )

    def report(self, folder: str | Path) -> Path:
        """Write backtest.csv, backtest.json and backtest.html into a folder; returns the path of the page."""
        from draincurve.reports.output.backtest_files import write_backtest

        path = checked_folder(folder)
        write_backtest(self.result, path, log_name=self.log.inputs.log_name, as_of=self.log.inputs.as_of)
        return path / "backtest.html"

    def __repr__(self) -> str:
        return f"<Backtest: {self.summary}>"

    def _repr_html_(self) -> str:
        lines = [f"{channel.capitalize()}: {verdict}" for channel, verdict in self.verdicts.items()]
        return f"<p>{escape(self.summary)}</p>" + "".join(f"<p>{escape(line)}</p>" for line in lines)


def backtest(
    log: ReadLog | TableInput,
    as_of: DayInput = None,
    *,
    settings: SettingsInput = None,
    oils: TableInput = None,
    measurements: TableInput = None,
    origins: int = 12,
    frames: str = "pandas",
) -> Backtest:
    """How earlier predictions would have held: fit as of past dates, predict the drains that followed.

    log, as_of, settings, oils, measurements, frames : as in `plan`
    origins : how many past dates to try, at most

    The model's predictions are scored beside the fleet's own distribution of ratings and beside boosted trees.
    Measured values are each predicted from the readings before them, beside the fleet's readings alone.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=48)
    >>> tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    >>> tried.predictions["channel"].unique().tolist()
    ['colour', 'debris']
    """
    origins = whole_number(origins, "origins")
    checked = log_of(log, as_of, settings=settings, sides={"oils": oils, "measurements": measurements}, frames=frames)
    return Backtest(checked, backtest_log(checked.log, checked.settings, origins=origins), frames)
