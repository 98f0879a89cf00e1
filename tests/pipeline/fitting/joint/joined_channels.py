"""Two channels of invented fleets with a known correlation and a known odds ratio, fitted apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import polars as pl

from draincurve.pipeline.describing.rated_drains import RatedDrains
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.schemas.settings import Settings

CHANNELS = ("colour", "debris")
SLOPE, UNIT_SD, THRESHOLD = 2.2, 0.66, np.log(9.0) + 2.2 * np.log(14.0)


class Drains(NamedTuple):
    """Ratings (2, n), log hours, unit of each drain, and the true effects (2, U)."""

    ratings: np.ndarray
    log_hours: np.ndarray
    unit: np.ndarray
    effects: np.ndarray


def drains_of(
    units: int,
    drains: int,
    correlation: float,
    odds_ratio: float,
    *,
    seed: int,
    fixed: Sequence[float] = (),
    rise: np.ndarray | float = 0.0,
    spread: float = 1.0,
    drained_at: Callable[[np.ndarray, np.ndarray], np.ndarray] | None = None,
) -> Drains:
    """Drains rated on both channels, either at 10 % past fit at 14 h in the typical unit.

    fixed : effects of the first units, the same on both channels; rise : (2, n), added to the linear predictors;
    spread : of the other units' effects, in UNIT_SD; drained_at : log hours of each drain (n,) from those at which
    the oil reaches its limit and those planned
    """
    rng = np.random.default_rng(seed)
    first, second = rng.standard_normal((2, units))
    effects = spread * np.array([first, correlation * first + np.sqrt(1 - correlation**2) * second])
    effects[:, : len(fixed)] = fixed
    unit = np.repeat(np.arange(units), drains)
    log_hours = np.log(12.0) + 0.4 * rng.standard_normal(unit.size)
    u, t = rng.uniform(size=(2, unit.size))
    # Conditional distribution of Plackett's (Johnson 1987, Multivariate Statistical Simulation, ch. 10).
    a = t * (1 - t)
    b = odds_ratio + a * (odds_ratio - 1) ** 2
    c = 2 * a * (u * odds_ratio**2 + 1 - u) + odds_ratio * (1 - 2 * a)
    d = np.sqrt(odds_ratio) * np.sqrt(odds_ratio + 4 * a * u * (1 - u) * (1 - odds_ratio) ** 2)
    v = (c - (1 - 2 * t) * d) / (2 * b)
    thresholds = THRESHOLD + 1.5 * (np.arange(2, 6) - 4)
    rises = np.broadcast_to(rise, (2, unit.size))
    if drained_at is not None:
        seen = UNIT_SD * effects[:, unit] + rises + np.log([u, v]) - np.log1p([-u, -v])
        log_hours = drained_at(((THRESHOLD - seen) / SLOPE).min(axis=0), log_hours)
    ratings = []
    for side, uniform in enumerate((u, v)):
        eta = SLOPE * log_hours + UNIT_SD * effects[side, unit] + rises[side]
        below = 1 / (1 + np.exp(-(thresholds - eta[:, None])))
        ratings.append(1 + (uniform[:, None] > below).sum(axis=1))
    return Drains(np.array(ratings), log_hours, unit, effects)


def rated(drains: Drains, side: int, rows: np.ndarray | None = None) -> RatedDrains:
    """One channel's drains, or those of some rows."""
    rows = np.arange(drains.unit.size) if rows is None else rows
    keys = np.array([f"u{unit:03d}" for unit in drains.unit[rows]], dtype=object)
    frame = pl.DataFrame(
        {
            "unit_key": keys.tolist(),
            "unit_id": keys.tolist(),
            "drained_on": [date(2025, 1, 1) + timedelta(days=int(row)) for row in rows],
            "oil_hours": np.exp(drains.log_hours[rows]),
            "service_kind": "oil",
        }
    )
    levels = drains.ratings[side, rows]
    none = np.empty((rows.size, 0))
    return RatedDrains(CHANNELS[side], frame, levels, levels, drains.log_hours[rows], none, keys, (), ())


def fits_of(drains: Drains, settings: Settings | None = None, **rows: np.ndarray) -> dict[str, ChannelFit]:
    """Both channels fitted; rows : the rows in which a channel is rated, all by default."""
    fits = {}
    for side, channel in enumerate(CHANNELS):
        fit = fit_channel(
            rated(drains, side, rows.get(channel)), settings or Settings(), rng=np.random.default_rng(side)
        )
        assert isinstance(fit, ChannelFit)
        fits[channel] = fit
    return fits
