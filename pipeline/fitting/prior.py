"""Log density of the prior over working parameters, with gradient and curvature.

Priors are stated on the logit scale and carried to other links by the ratio of standard deviations. The half-normal
priors of spreads carry the Jacobian of the log, so that the density is one over the working parameters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.fitting.links import Link
from draincurve.pipeline.fitting.parameters import ParameterPlan
from draincurve.schemas.settings import Priors

Floats = NDArray[np.float64]

_LOG_TWO_PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True)
class Prior:
    """Normal priors (mean, sd; shape (size,)) and half-normal scales at the places of spreads (nan elsewhere)."""

    mean: Floats
    sd: Floats
    half_normal: Floats

    @property
    def start(self) -> Floats:
        """Prior median of every working parameter."""
        median = 0.6744897501960817  # of a half-normal with scale 1
        return np.where(np.isnan(self.half_normal), self.mean, np.log(median * self.half_normal))

    def log_density(self, working: Floats) -> Floats:
        """Log prior density of one vector, or of draws (S, size), with its constants."""
        rows = np.atleast_2d(working)
        spread = ~np.isnan(self.half_normal)
        z = (rows[:, ~spread] - self.mean[~spread]) / self.sd[~spread]
        total = np.sum(-0.5 * z**2 - np.log(self.sd[~spread]) - 0.5 * _LOG_TWO_PI, axis=1)
        logs, scale = rows[:, spread], self.half_normal[spread]
        square = np.exp(np.minimum(2.0 * logs, 700.0)) / scale**2
        total += np.sum(0.5 * np.log(2.0 / np.pi) - np.log(scale) + logs - 0.5 * square, axis=1)
        return np.asarray(total if working.ndim > 1 else total[0])

    def gradient_and_curvature(self, working: Floats) -> tuple[Floats, Floats]:
        """First and second derivatives of the log density, each (size,)."""
        spread = ~np.isnan(self.half_normal)
        gradient = -(working - self.mean) / self.sd**2
        curvature = -1.0 / self.sd**2
        square = np.exp(2.0 * working[spread]) / self.half_normal[spread] ** 2
        gradient[spread] = 1.0 - square
        curvature[spread] = -2.0 * square
        return gradient, curvature

    def working_sd(self) -> Floats:
        """Prior sd of every working parameter; for the log of a half-normal it is pi / sqrt(8) whatever its scale."""
        return np.where(np.isnan(self.half_normal), self.sd, np.pi / np.sqrt(8.0))


def prior_for(plan: ParameterPlan, priors: Priors, link: Link, column_scales: Floats) -> Prior:
    """The prior over a plan's working parameters.

    column_scales : (p,), by which a column's prior sd is multiplied (sum-to-zero contrasts of few levels need a
    little more than 1 so that each level's own sd is 1).
    """
    mean = np.zeros(plan.size)
    sd = np.ones(plan.size)
    half_normal = np.full(plan.size, np.nan)
    sd[0] = priors.first_cut_sd * link.scale
    mean[plan.gaps] = np.log(priors.gap * link.scale)
    sd[plan.gaps] = priors.gap_log_sd
    sd[plan.coefficients] = priors.coefficient_sd * link.scale * column_scales
    for members in plan.pooled:
        sd[plan.levels - 1 + np.array(members)] = 1.0
    if plan.hours is not None:
        mean[plan.hours] = np.log(priors.hours_slope * link.scale)
        sd[plan.hours] = priors.hours_slope_log_sd
    half_normal[plan.group_spreads] = priors.pooled_sd * link.scale
    if plan.has_units:
        half_normal[-1] = priors.unit_sd * link.scale
    return Prior(mean, sd, half_normal)
