"""Lines of units updated with a reading of each, or with the distance of its line from the fleet's.

The lines are normal given the standard deviations, so what is known of their value at these hours updates level and
slope in closed form (the normal linear model with one more observation, as in Kalman 1960, J. Basic Eng. 82, 35-45).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from draincurve.pipeline.fitting.degradation.line_posterior import UnitLines
from draincurve.schemas.array_types import Floats, Integers


def with_known_distances(
    lines: UnitLines, columns: Integers, *, at_h: float, distance: Floats, error: Floats
) -> tuple[UnitLines, Integers]:
    """The lines given units' distances from the fleet's line at `at_h`, and the columns of these units.

    columns : (U,), of each unit among the lines, `lines.new_unit` for one without readings, which gets one of its
    own; distance (U,), in the units of the readings; error (U,), its variance, infinite where nothing is known
    """
    known = np.flatnonzero(np.isfinite(error))
    without = known[columns[known] == lines.new_unit]
    # Columns with readings, then those of units without readings of which something is known, then a new unit's.
    order = np.minimum(np.arange(lines.new_unit + without.size + 1), lines.new_unit)
    line_of_unit = np.where(columns == lines.new_unit, order.size - 1, columns)
    line_of_unit[without] = lines.new_unit + np.arange(without.size)
    wider = of_columns(lines, order)
    known_lines = line_of_unit[known]
    seen = (lines.level[:, -1] + at_h * lines.slope[:, -1])[:, None] + distance[known]
    return with_values(wider, known_lines, at_h=at_h, value=seen, error=error[known]), line_of_unit


def of_columns(lines: UnitLines, columns: Integers) -> UnitLines:
    """Copies of the lines of some columns, in their order; a column may occur several times."""
    level, slope, level_variance, covariance, slope_variance = (
        part[:, columns]
        for part in (lines.level, lines.slope, lines.level_variance, lines.covariance, lines.slope_variance)
    )
    return replace(
        lines,
        level=level,
        slope=slope,
        level_variance=level_variance,
        covariance=covariance,
        slope_variance=slope_variance,
    )


def with_values(
    lines: UnitLines, columns: Integers, *, at_h: float | Floats, value: Floats, error: Floats
) -> UnitLines:
    """The lines given the value of some columns, each once, at `at_h`, one for all or (U,).

    value : (U,) or (K, U), in the units of the readings; error : its variance, of a shape that fits it
    """
    updated = of_columns(lines, np.arange(lines.level.shape[1]))
    with_level = lines.level_variance[:, columns] + at_h * lines.covariance[:, columns]
    with_slope = lines.covariance[:, columns] + at_h * lines.slope_variance[:, columns]
    total = with_level + at_h * with_slope + error
    missed = (value - lines.level[:, columns] - at_h * lines.slope[:, columns]) / total
    updated.level[:, columns] += with_level * missed
    updated.slope[:, columns] += with_slope * missed
    updated.level_variance[:, columns] -= with_level**2 / total
    updated.covariance[:, columns] -= with_level * with_slope / total
    updated.slope_variance[:, columns] -= with_slope**2 / total
    return updated
