"""A rater's drift taken out of the fit, as a random walk over the periods of that rater's drains.

Only raters whose drift the log shows get it (`rater_drift`). Each step has a normal prior (a first-order random walk:
Fahrmeir & Lang 2001, J. R. Stat. Soc. C 50, 201-220; from memory). The walk has mean zero over the rater's drains, so
the rater's effect stays that of the average over them, and a prediction is for that average eye.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import RatedDrains, drift_term
from draincurve.pipeline.fitting.double_ratings import RATER_COLUMN
from draincurve.schemas.array_types import Floats

DRAINS_A_PERIOD = 5
MOST_PERIODS = 8


def with_drift_columns(drains: RatedDrains, raters: Sequence[str]) -> RatedDrains:
    """The drains with a random walk for each of some raters; not for a design held as indices of levels."""
    assert isinstance(drains.design, np.ndarray), "drifts are taken out of small logs only"
    walks = [_walk(drains.rows, rater) for rater in raters]
    terms = [drift_term(rater, walk.shape[1]) for rater, walk in zip(raters, walks, strict=True)]
    return replace(drains, design=np.hstack((drains.design, *walks)), terms=(*drains.terms, *terms))


def _walk(rows: pl.DataFrame, rater: str) -> Floats:
    """Columns of the steps between a rater's periods, (n, periods - 1), in root years; zero in others' drains."""
    of_rater = np.flatnonzero((rows[RATER_COLUMN] == rater).fill_null(False).to_numpy())
    years = rows["drained_on"].to_physical().to_numpy()[of_rater] / 365.25
    order = of_rater[np.argsort(years, kind="stable")]
    periods = np.array_split(
        np.arange(of_rater.size), int(np.clip(of_rater.size // DRAINS_A_PERIOD, 2, MOST_PERIODS))
    )
    middles = np.array([np.sort(years)[part].mean() for part in periods])
    columns = np.zeros((rows.height, len(periods) - 1))
    for step, part in enumerate(periods[1:]):
        after = (np.arange(of_rater.size) >= part[0]).astype(np.float64)
        columns[order, step] = (after - after.mean()) * np.sqrt(middles[step + 1] - middles[step])
    return columns
