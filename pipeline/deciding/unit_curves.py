"""Risk against hours for single units, for their pictures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.caps import OIL
from draincurve.pipeline.deciding.oil_curves import OilCurves, risk_by_draw
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.next_service_table import FASTER, SLOWER
from draincurve.schemas.settings import Settings

MOST_UNITS = 64
"""Most units with curves: a page shows no more pictures of single units."""
POINTS = 32
MOST_DRAWS = 200


@dataclass(frozen=True, slots=True)
class UnitCurve:
    """Probability of a rating at or past the limit against hours on this fill, for one current unit.

    channel : OIL for that of any channel, where there are several.  hours, median, low, high : arrays, shape (m,), as
    in RiskCurve
    """

    unit_id: str
    site: str | None
    channel: str
    hours: Floats
    median: Floats
    low: Floats
    high: Floats


def chosen_unit_curves(
    curves: OilCurves,
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    longest_h: float,
    settings: Settings,
) -> tuple[UnitCurve, ...]:
    """Posterior median and 5 % and 95 % points of each chosen unit's risk: the oil's, and channel by channel.

    curves : rows as those of `state`; next_service : says which units are called or turned;
    longest_h : longest fill of the log [h], up to which, and a step more, a curve is drawn. In a fleet of over
    MOST_UNITS only units with a sign to inspect, a call or a turn are chosen.
    """
    hours = np.linspace(0.02, 1.0, POINTS) * longest_h * settings.data_range_factor
    chosen = chosen_units(state, next_service)
    curves_shown = []
    thinned = curves.every(max(1, curves.draws // MOST_DRAWS))
    by_channel = {channel: OilCurves({channel: curve}) for channel, curve in thinned.channels.items()}
    if len(by_channel) > 1:
        by_channel = {OIL: thinned} | by_channel
    for channel, channel_curves in by_channel.items():
        for row in chosen:
            risk, _ = risk_by_draw(channel_curves.rows(np.full(POINTS, row)), np.log(hours)[:, None])
            low, median, high = np.quantile(risk, (0.05, 0.5, 0.95), axis=1)
            unit = state.row(int(row), named=True)
            curves_shown.append(UnitCurve(unit["unit_id"], unit["site"], channel, hours, median, low, high))
    return tuple(curves_shown)


def chosen_units(state: pl.DataFrame, next_service: pl.DataFrame) -> Integers:
    """Rows of `state` whose curves are drawn, in its order."""
    if state.height <= MOST_UNITS:
        return np.arange(state.height)
    called = next_service.select(
        "unit_id",
        "site",
        (pl.col("standing").is_in([FASTER, SLOWER]) | pl.col("turned").fill_null(False)).alias("called"),
    ).unique(["unit_id", "site"])
    marked = state.join(called, on=["unit_id", "site"], how="left", nulls_equal=True, maintain_order="left")
    says = (marked["called"].fill_null(False) | state["signs"].is_not_null()).to_numpy()
    return np.flatnonzero(says)[:MOST_UNITS]
