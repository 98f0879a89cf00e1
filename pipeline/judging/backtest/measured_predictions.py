"""Predictions of measured values: each reading from the fleet before an origin and its own unit's readings before it.

The fleet's line and the standard deviations are those of the readings before the origin. A unit's line is given its
readings up to the one that is predicted, so that these predictions err independently of each other, and the share of
readings inside a range can be held against the binomial distribution (Dawid 1984, J. R. Stat. Soc. A 147, 278-292).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import stdtr, stdtrit

from draincurve.pipeline.fitting.degradation import FittedWear, of_columns, with_values
from draincurve.schemas.array_types import Floats

POINTS = 2_000
"""Equally likely values that represent a predicted distribution."""

HOURS_BINS = 4


@dataclass(frozen=True, slots=True)
class PredictedReadings:
    """Predictions of readings, in the order of `rows` and on the scale of the fitted lines.

    points : (n, S), equally likely values in ascending order; under : (n,), probability of a value under the reading
    """

    rows: pl.DataFrame
    points: Floats
    under: Floats


def predicted_readings(fitted: FittedWear, inside: pl.DataFrame) -> PredictedReadings:
    """Predictions of the readings inside a window.

    inside : readings as `rows_to_fit` gives them, of days after those of the fit. A unit without earlier ones starts
    as a new one. A reading that is only known to be under or over a bound does not update the line.
    """
    unit_part = ["unit_key", "part"]
    rows = inside.sort(*unit_part, "measured_on", "clock_h", maintain_order=True).with_columns(
        pl.int_range(pl.len()).over(unit_part).alias("_number")
    )
    units = rows.select(unit_part).unique(maintain_order=True).with_row_index("_line")
    columns = units.join(fitted.groups, on=unit_part, how="left", maintain_order="left")["column"]
    lines = of_columns(fitted.lines, columns.cast(pl.Int64).fill_null(fitted.lines.new_unit).to_numpy())
    line = rows.join(units, on=unit_part, how="left", maintain_order="left")["_line"].cast(pl.Int64).to_numpy()
    values, hours = on_scale(rows["value"], log_scale=fitted.log_scale), rows["clock_h"].cast(pl.Float64).to_numpy()
    measured, number = rows["bound"].is_null().to_numpy(), rows["_number"].to_numpy()
    points_per_draw = max(POINTS // lines.residual_variance.size, 1)
    quantiles = stdtrit(lines.degrees_of_freedom, (np.arange(points_per_draw) + 0.5) / points_per_draw)
    points = np.empty((rows.height, points_per_draw * lines.residual_variance.size))
    under = np.empty(rows.height)
    for step in range(int(number.max(initial=-1)) + 1):
        rows_now = np.flatnonzero(number == step)
        centre, scale = (array[:, :, 0] for array in lines.at(line[rows_now], hours[rows_now, None], of_reading=True))
        under[rows_now] = stdtr(lines.degrees_of_freedom, (values[rows_now] - centre) / scale).mean(axis=0)
        mixture = centre[:, :, None] + scale[:, :, None] * quantiles
        points[rows_now] = np.sort(mixture.transpose(1, 0, 2).reshape(rows_now.size, -1), axis=1)
        update = rows_now[measured[rows_now]]
        noise = lines.residual_variance[:, None]
        lines = with_values(lines, line[update], at_h=hours[update], value=values[update], error=noise)
    return PredictedReadings(rows.drop("_number"), points, under)


def on_scale(values: pl.Series, *, log_scale: bool) -> Floats:
    """Values on the scale of the lines."""
    numbers = values.cast(pl.Float64).to_numpy()
    return np.log(numbers) if log_scale else numbers


def values_at_like_hours(hours_before: Floats, values: Floats, *, hours: Floats) -> list[Floats]:
    """For each of `hours`, the earlier values in its quarter by hours, all of them where the quarter has none."""
    edges = np.quantile(hours_before, np.arange(1, HOURS_BINS) / HOURS_BINS)
    quarter_of_row = np.searchsorted(edges, hours_before, side="right")
    quarters = [values[quarter_of_row == number] for number in range(HOURS_BINS)]
    return [
        quarters[quarter] if quarters[quarter].size else values
        for quarter in np.searchsorted(edges, hours, side="right").tolist()
    ]
