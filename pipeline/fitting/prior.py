"""Log density of the prior over working parameters, with gradient and curvature.

Priors are specified for the logit link and rescaled for other links by the ratio of standard deviations. The
half-normal priors of standard deviations include the Jacobian of the log, so that the density is one over the working
parameters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.fitting.links import Link
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.schemas.array_types import Booleans, Floats
from draincurve.schemas.settings import Priors

_LOG_TWO_PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True)
class Prior:
    """Normal priors (mean, sd) and half-normal scales of standard deviations (nan elsewhere), (size,) each."""

    mean: Floats
    sd: Floats
    half_normal: Floats

    @property
    def is_half_normal(self) -> Booleans:
        """Which working parameters are logs of standard deviations with a half-normal prior, (size,)."""
        return ~np.isnan(self.half_normal)

    @property
    def median(self) -> Floats:
        """Prior median of every working parameter, from which the fit starts."""
        unit_median = 0.6744897501960817  # of a half-normal with scale 1
        return np.where(self.is_half_normal, np.log(unit_median * self.half_normal), self.mean)

    def log_density(self, working: Floats) -> Floats:
        """Log prior density of one vector, or of draws (S, size), with its constants."""
        rows = np.atleast_2d(working)
        half = self.is_half_normal
        z = (rows[:, ~half] - self.mean[~half]) / self.sd[~half]
        total = np.sum(-0.5 * z**2 - np.log(self.sd[~half]) - 0.5 * _LOG_TWO_PI, axis=1)
        log_sds, scale = rows[:, half], self.half_normal[half]
        square = np.exp(np.minimum(2.0 * log_sds, 700.0)) / scale**2
        total += np.sum(0.5 * np.log(2.0 / np.pi) - np.log(scale) + log_sds - 0.5 * square, axis=1)
        return np.asarray(total if working.ndim > 1 else total[0])

    def gradient_and_curvature(self, working: Floats) -> tuple[Floats, Floats]:
        """First and second derivatives of the log density, each (size,)."""
        half = self.is_half_normal
        gradient = -(working - self.mean) / self.sd**2
        curvature = -1.0 / self.sd**2
        square = np.exp(2.0 * working[half]) / self.half_normal[half] ** 2
        gradient[half] = 1.0 - square
        curvature[half] = -2.0 * square
        return gradient, curvature

    def working_sd(self) -> Floats:
        """Prior sd of every working parameter; for the log of a half-normal it is pi / sqrt(8) whatever its scale."""
        return np.where(self.is_half_normal, np.pi / np.sqrt(8.0), self.sd)


def prior_for(
    layout: ParameterLayout, priors: Priors, *, link: Link, column_scales: Floats, column_means: Floats
) -> Prior:
    """The prior over the working parameters.

    column_means : (p,), prior mean of each column's coefficient for the logit link; column_scales : (p,), factors on
    its prior sd (sum-to-zero contrasts of few levels need a little more than 1, so that the sd of each level is 1)
    """
    mean = np.zeros(layout.size)
    sd = np.ones(layout.size)
    half_normal = np.full(layout.size, np.nan)
    sd[0] = priors.first_threshold_sd * link.scale
    mean[layout.gaps] = np.log(priors.gap * link.scale)
    sd[layout.gaps] = priors.gap_log_sd
    mean[layout.coefficients] = column_means * link.scale
    sd[layout.coefficients] = priors.coefficient_sd * link.scale * column_scales
    for members in layout.pooled_coefficients:
        sd[members] = 1.0
    if layout.hours_index is not None:
        mean[layout.hours_index] = np.log(priors.hours_slope * link.scale)
        sd[layout.hours_index] = priors.hours_slope_log_sd
    half_normal[layout.group_log_sds] = priors.pooled_sd * link.scale
    if layout.has_units:
        half_normal[-1] = priors.unit_sd * link.scale
    return Prior(mean, sd, half_normal)
