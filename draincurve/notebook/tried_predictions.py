"""The backtest for a notebook: how earlier predictions would have held."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import polars as pl

from draincurve.notebook.given_inputs import GivenDay, GivenSettings, GivenTable, frame_of, given_folder, whole_number
from draincurve.notebook.read_log import ReadLog, log_of
from draincurve.pipeline.judging.backtest import BacktestResult, first_screen_sentence, holding_sentence
from draincurve.pipeline.judging.backtest import backtest as try_predictions
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.backtest_table import COLUMNS


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class TriedPredictions:
    """What `backtest` found.

    result : scores, calibration and verdict of each channel; a sentence where nothing could be tried

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=48)
    >>> tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    >>> print(tried.summary[:41])
    Too early to say whether predictions hold
    """

    log: ReadLog
    result: BacktestResult | str
    frames: str

    @property
    def predictions(self) -> Any:
        """Frame with one row for each drain and channel that was predicted: the risk, and what came."""
        rows = pl.DataFrame(schema=list(COLUMNS)) if isinstance(self.result, str) else self.result.rows
        return frame_of(rows, self.frames)

    @property
    def summary(self) -> str:
        """Whether the predictions held, or why none could be tried."""
        if isinstance(self.result, str):
            return self.result
        return first_screen_sentence(self.result) or holding_sentence(self.result)

    @property
    def verdicts(self) -> dict[str, str]:
        """One or two sentences on each channel that was tried."""
        return {} if isinstance(self.result, str) else {one.channel: one.verdict for one in self.result.channels}

    def report(self, folder: str | Path) -> Path:
        """Write backtest.csv, backtest.json and backtest.html into a folder; returns the path of the page."""
        from draincurve.reports.output.backtest_files import write_backtest

        path = given_folder(folder)
        write_backtest(self.result, path, log_name=self.log.inputs.log_name, as_of=self.log.inputs.as_of)
        return path / "backtest.html"

    def __repr__(self) -> str:
        return f"<TriedPredictions: {self.summary}>"

    def _repr_html_(self) -> str:
        lines = [f"{channel.capitalize()}: {verdict}" for channel, verdict in self.verdicts.items()]
        return f"<p>{escape(self.summary)}</p>" + "".join(f"<p>{escape(line)}</p>" for line in lines)


def backtest(
    log: ReadLog | GivenTable,
    as_of: GivenDay = None,
    *,
    settings: GivenSettings = None,
    origins: int = 12,
    frames: str = "pandas",
) -> TriedPredictions:
    """How earlier predictions would have held: fit as of past dates, predict the drains that followed.

    log, as_of, settings, frames : as in `plan`
    origins : how many past dates to try, at most

    The model's predictions are scored beside the fleet's own distribution of ratings and beside boosted trees.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=48)
    >>> tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    >>> tried.predictions["channel"].unique().tolist()
    ['colour', 'debris']
    """
    origins = whole_number(origins, "origins")
    checked = log_of(log, as_of, settings=settings, sides={}, frames=frames)
    rng = stream(checked.settings.seed, "backtest")
    drains = checked.log.accepted["drains"]
    return TriedPredictions(checked, try_predictions(drains, checked.settings, rng=rng, origins=origins), frames)
