"""Log density over working parameters from the likelihood's derivatives by natural ones, the prior added."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.fitting.newton import Point
from draincurve.pipeline.fitting.parameters import ParameterPlan
from draincurve.pipeline.fitting.prior import Prior

Floats = NDArray[np.float64]


def density_point(
    plan: ParameterPlan, prior: Prior | None, working: Floats, value: float, by_natural: Floats
) -> Point:
    """The log density at a working vector, from the log likelihood there and its gradient by natural parameters."""
    gradient = plan.jacobian(working).T @ by_natural
    if prior is not None:
        value += float(prior.log_density(working))
        gradient = gradient + prior.gradient_and_curvature(working)[0]
    return Point(working, value, gradient, by_natural)


def density_hessian(plan: ParameterPlan, prior: Prior | None, point: Point, natural_hessian: Floats) -> Floats:
    """Hessian of the log density at a point, from the likelihood's by natural parameters."""
    jacobian = plan.jacobian(point.place)
    curvature = jacobian.T @ natural_hessian @ jacobian
    if prior is not None:
        curvature += np.diag(prior.gradient_and_curvature(point.place)[1])
    return np.asarray(curvature + plan.bend(point.place, point.by_natural))
