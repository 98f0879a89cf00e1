"""A rater's drift taken out of the fit, as a random walk over the periods of that rater's drains.

Only raters whose drift the log shows get it (`rater_drift`). Each step has a normal prior (a first-order random walk:
Fahrmeir & Lang 2001, J. R. Stat. Soc. C 50, 201-220; from memory). The walk has mean zero over the rater's drains, so
the rater's effect stays that of the average over them, and hours are for that average eye. What the rater will rate
next is predicted from where the walk has come (`drift_since`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import DRIFT_SD, CompactDesign, RatedDrains, drift_term
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.double_ratings import RATER_COLUMN
from draincurve.schemas.array_types import Floats, Integers

DRAINS_A_PERIOD = 5
MOST_PERIODS = 8


def with_drift_columns(drains: RatedDrains, raters: Sequence[str], *, most_steps: int | None = None) -> RatedDrains:
    """The drains with a random walk for each of some raters.

    most_steps : of all walks together, beyond which they have fewer periods, though never under two; None for no
    limit
    """
    most = MOST_PERIODS
    if most_steps is not None:
        most = int(np.clip(1 + most_steps // max(len(raters), 1), 2, MOST_PERIODS))
    design, terms = drains.design, list(drains.terms)
    for rater in raters:
        periods = _periods(drains.rows, rater, most=most)
        period_of, walk = _walk(drains.rows, periods)
        design = (
            design.with_term(period_of, walk)
            if isinstance(design, CompactDesign)
            else np.hstack((design, walk[period_of]))
        )
        terms.append(drift_term(rater, walk.shape[1]))
    return replace(drains, design=design, terms=tuple(terms))


def drift_since(fit: ChannelFit, rows: pl.DataFrame, *, rng: np.random.Generator) -> Floats:
    """How far the raters of later drains are from their average in the fit, (rows, S), above 0 where dirtier.

    rows : drains after those of the fit, with rated_by and drained_on. A walk goes on from its last period; raters
    without one have zero.
    """
    since = np.zeros((rows.height, fit.draws))
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        if term.kind != "drift":
            continue
        last_period = _periods(fit.drains.rows, term.rater, most=term.steps + 1)[-1]
        last_level = fit.coefficients[:, span] @ fit.drains.design_of(last_period[:1])[0, span]
        own = np.flatnonzero((rows[RATER_COLUMN] == term.rater).fill_null(False).to_numpy())
        years = _years(rows)[own] - _years(fit.drains.rows)[last_period].mean()
        sd = DRIFT_SD * fit.fit.objective.likelihood.link.scale * np.sqrt(years)
        since[own] = last_level + sd[:, None] * rng.standard_normal((own.size, fit.draws))
    return since


def _periods(rows: pl.DataFrame, rater: str, *, most: int) -> list[Integers]:
    """Indices of a rater's drains by period, in order of time."""
    of_rater = np.flatnonzero((rows[RATER_COLUMN] == rater).fill_null(False).to_numpy())
    order = of_rater[np.argsort(_years(rows[of_rater]), kind="stable")]
    return np.array_split(order, int(np.clip(order.size // DRAINS_A_PERIOD, 2, most)))


def _walk(rows: pl.DataFrame, periods: Sequence[Integers]) -> tuple[Integers, Floats]:
    """Period of each row, (n,), and columns of the steps between periods in root years, (periods + 1, periods - 1).

    The last row of the columns is zero, for the drains of others.
    """
    period_of = np.full(rows.height, len(periods))
    for number, period in enumerate(periods):
        period_of[period] = number
    years = _years(rows)
    middles = np.array([years[period].mean() for period in periods])
    shares = np.array([period.size for period in periods]) / sum(period.size for period in periods)
    after = np.tril(np.ones((len(periods), len(periods) - 1)), -1)
    walk = np.zeros((len(periods) + 1, len(periods) - 1))
    walk[:-1] = (after - shares @ after) * np.sqrt(np.diff(middles))
    return period_of, walk


def _years(rows: pl.DataFrame) -> Floats:
    return np.asarray(rows["drained_on"].to_physical().to_numpy() / 365.25)
