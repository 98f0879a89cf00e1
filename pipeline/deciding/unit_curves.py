"""Risk against hours for single units, for their pictures."""

from __future__ import annotations

from collections.abc import Sequence
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


@dataclass(frozen=True, slots=True)
class UnitCurve:
    """Probability of a rating at or past the limit against hours on this fill, for one current unit.

    channel : OIL for that of any channel, where there are several.  hours, risk, low, high : arrays, shape (m,), as
    in RiskCurve
    """

    unit_id: str
    site: str | None
    channel: str
    hours: Floats
    risk: Floats
    low: Floats
    high: Floats


def chosen_unit_curves(
    readings: Sequence[OilCurves],
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    longest_h: float,
    settings: Settings,
) -> tuple[UnitCurve, ...]:
    """Each chosen unit's risk with its 5 % and 95 % posterior points: the oil's, and channel by channel.

    It is the risk by which intervals are set: at any hours the largest by all readings of what is asked about.
    readings : curves with rows as those of `state`; next_service : says which units are called or turned;
    longest_h : longest fill of the log [h], up to which, and a step more, a curve is drawn. In a fleet of over
    MOST_UNITS only units with a sign to inspect, a call or a turn are chosen.
    """
    hours = np.linspace(0.02, 1.0, POINTS) * longest_h * settings.data_range_factor
    chosen = chosen_units(state, next_service)
    curves_shown = []
    by_reading = [_by_channel(curves) for curves in readings]
    for channel in dict.fromkeys(channel for by_channel in by_reading for channel in by_channel):
        of_channel = [by_channel[channel] for by_channel in by_reading if channel in by_channel]
        for row in chosen:
            risk, low, high = _largest_risk(of_channel, int(row), hours)
            unit = state.row(int(row), named=True)
            curves_shown.append(UnitCurve(unit["unit_id"], unit["site"], channel, hours, risk, low, high))
    return tuple(curves_shown)


def _by_channel(curves: OilCurves) -> dict[str, OilCurves]:
    """The oil's curves where there are several channels, then those of each channel alone."""
    by_channel = {channel: OilCurves({channel: curve}) for channel, curve in curves.channels.items()}
    return {OIL: curves} | by_channel if len(by_channel) > 1 else by_channel


def _largest_risk(readings: Sequence[OilCurves], row: int, hours: Floats) -> tuple[Floats, ...]:
    """One unit's mean risk at each of the hours, with its 5 % and 95 % points, by the reading where it is largest."""
    of_readings = []
    for curves in readings:
        by_draw, _ = risk_by_draw(curves.rows(np.full(hours.size, row)), np.log(hours)[:, None])
        of_readings.append(np.stack([by_draw.mean(axis=1), *np.quantile(by_draw, (0.05, 0.95), axis=1)]))
    stacked = np.stack(of_readings)
    risk, low, high = stacked[np.argmax(stacked[:, 0], axis=0), :, np.arange(hours.size)].T
    return risk, low, high


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
