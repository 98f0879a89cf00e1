"""A shift of the linear predictor in rating levels, over the drains of a fleet."""

from __future__ import annotations

import numpy as np

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.schemas.array_types import Floats

MOST_DRAINS = 400
"""Drains over which the mean level is taken, evenly spaced over the fleet's."""

SHIFTS = np.linspace(-12.0, 12.0, 97)
"""Shifts of the linear predictor."""


def levels_per_predictor(fit: ChannelFit) -> float:
    """Derivative of the mean level by the linear predictor, over the fleet's drains, by central differences."""
    curve = level_curve(fit, slice(0, 0))
    zero = SHIFTS.size // 2
    return float((curve[zero + 1] - curve[zero - 1]) / (SHIFTS[zero + 1] - SHIFTS[zero - 1]))


def level_curve(fit: ChannelFit, left_out: slice) -> Floats:
    """Change of the mean level of the fleet's drains when the linear predictor is shifted by SHIFTS, at the mode.

    left_out : design columns whose coefficients count as zero, so that the drains are those of the average rater.
    """
    rows = np.unique(np.linspace(0, fit.drains.low.size - 1, MOST_DRAINS).astype(np.int64))
    index_of = {key: index for index, key in enumerate(fit.unit_keys)}
    units = np.array([index_of[key] for key in fit.drains.units[rows]])
    coefficients = fit.fit.coefficients.copy()
    coefficients[left_out] = 0.0
    slope = fit.fit.hours_slope or 0.0
    predictor = slope * fit.drains.log_hours[rows] + fit.drains.design_of(rows) @ coefficients
    predictor += fit.fit.unit_effects[units]
    link = fit.fit.objective.likelihood.link
    margins = fit.fit.thresholds[:, None] - predictor
    level = np.array([link.survival(margins - shift).sum(axis=0).mean() for shift in SHIFTS])
    return np.asarray(level - level[SHIFTS.size // 2])
