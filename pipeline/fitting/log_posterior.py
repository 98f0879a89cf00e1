"""The log posterior over working parameters, from the likelihood over natural ones: chain rule plus prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.fitting.newton import Point
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import Prior
from draincurve.schemas.array_types import Floats


@dataclass(frozen=True)
class LogPosterior:
    """The layout of the parameters and the prior over the working ones; without a prior, the log likelihood."""

    layout: ParameterLayout
    prior: Prior | None

    def point(self, working: Floats, *, value: float, natural_gradient: Floats) -> Point:
        """The log posterior at working parameters (size,).

        value, natural_gradient : of the log likelihood there, the gradient by natural parameters
        """
        gradient = self.layout.jacobian(working).T @ natural_gradient
        if self.prior is not None:
            value += float(self.prior.log_density(working))
            gradient = gradient + self.prior.gradient_and_curvature(working)[0]
        return Point(working, value, gradient, natural_gradient)

    def hessian(self, point: Point, natural_hessian: Floats) -> Floats:
        """Hessian of the log posterior at a point; natural_hessian : of the log likelihood, by natural parameters."""
        jacobian = self.layout.jacobian(point.working)
        hessian = jacobian.T @ natural_hessian @ jacobian
        if self.prior is not None:
            hessian += np.diag(self.prior.gradient_and_curvature(point.working)[1])
        return np.asarray(hessian + self.layout.second_order_term(point.working, point.natural_gradient))
