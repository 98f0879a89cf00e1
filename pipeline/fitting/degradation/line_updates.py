"""Lines of units given one more thing that is known of each: how far its line is from the fleet's at some hours.

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
    # Columns with readings, then those of the units without that something is known of, then a new unit's.
    order = np.minimum(np.arange(lines.new_unit + without.size + 1), lines.new_unit)
    own = np.where(columns == lines.new_unit, order.size - 1, columns)
    own[without] = lines.new_unit + np.arange(without.size)
    level, slope, level_variance, covariance, slope_variance = (
        part[:, order]
        for part in (lines.level, lines.slope, lines.level_variance, lines.covariance, lines.slope_variance)
    )
    at = own[known]
    seen = (lines.level[:, -1] + at_h * lines.slope[:, -1])[:, None] + distance[known]
    with_level = level_variance[:, at] + at_h * covariance[:, at]
    with_slope = covariance[:, at] + at_h * slope_variance[:, at]
    total = with_level + at_h * with_slope + error[known]
    missed = (seen - level[:, at] - at_h * slope[:, at]) / total
    level[:, at] += with_level * missed
    slope[:, at] += with_slope * missed
    level_variance[:, at] -= with_level**2 / total
    covariance[:, at] -= with_level * with_slope / total
    slope_variance[:, at] -= with_slope**2 / total
    updated = replace(
        lines,
        level=level,
        slope=slope,
        level_variance=level_variance,
        covariance=covariance,
        slope_variance=slope_variance,
    )
    return updated, own
