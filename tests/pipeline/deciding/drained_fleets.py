"""Small rated fleets as accepted frames, fitted: for the tests of what to drain next."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import polars as pl
from fleet_frames import AS_OF

from draincurve.pipeline.describing.fill_conditions import state_conditions
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.schemas.settings import Settings


def log_of(
    units: int, drains: int, seed: int, middle_h: float = 12.0, log_sd: float = 0.4, limit_h: float = 14.0
) -> pl.DataFrame:
    """Drains of units a, b, ...: fills about `middle_h` [h], the typical unit at a tenth of the risk at `limit_h`."""
    rng = np.random.default_rng(seed)
    rows = units * drains
    unit = np.repeat(np.arange(units), drains)
    hours = np.round(middle_h * np.exp(log_sd * rng.standard_normal(rows)), 1)
    eta = 2.2 * np.log(hours / limit_h) - np.log(9.0) + 0.6 * rng.standard_normal(units)[unit]
    ratings = 1 + np.searchsorted([-3.5, -1.7, 0.0, 1.7], eta + rng.logistic(size=rows))
    return frame(unit, hours, ratings)


def frame(unit: np.ndarray, hours: np.ndarray, ratings: np.ndarray) -> pl.DataFrame:
    """Accepted rows of these units, hours [h] and ratings, a week apart."""
    keys = [f"u{number:03d}" for number in unit]
    texts = {"oil_grade": "amber", "spring_type": "steel", "rider": "rider a", "site": "north", "service_kind": "oil"}
    no_text = ("surface", "machine", "chamber", "rated_by")
    return pl.DataFrame(
        {
            "line": np.arange(2, unit.size + 2),
            "unit_key": keys,
            "unit_id": [key.upper() for key in keys],
            "drained_on": [AS_OF - timedelta(days=7 * (unit.size - number)) for number in range(unit.size)],
            "oil_hours": hours,
            "debris_low": ratings,
            "debris_high": ratings,
        }
    ).with_columns(
        *(pl.lit(value).alias(name) for name, value in texts.items()),
        *(pl.lit(None, dtype=pl.String).alias(name) for name in no_text),
        *(
            pl.lit(None, dtype=pl.Float64).alias(n)
            for n in ("settle_hours", "spring_hours", "filled_ml", "drained_ml")
        ),
        *(pl.lit(None, dtype=pl.Boolean).alias(name) for name in ("milky", "burnt", "leak")),
    )


def fitted(drains: pl.DataFrame, settings: Settings | None = None) -> ChannelFit:
    """The debris channel's fit."""
    fit = fit_channel(describe_channel(drains, "debris"), settings or Settings(), rng=np.random.default_rng(1))
    assert isinstance(fit, ChannelFit)
    return fit


def state_of_log(drains: pl.DataFrame, units: pl.DataFrame | None = None) -> pl.DataFrame:
    """Units as they stand, with the conditions of the fill."""
    return state_conditions(fleet_state(drains, units, as_of=AS_OF), 0.167, usual_hours=12.0)
