"""What the fit climbs: log likelihood, plus log prior where there is one, over the working parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.fitting.likelihood import Likelihood
from pipeline.fitting.newton import Ascent, Point, climb
from pipeline.fitting.parameters import ParameterPlan
from pipeline.fitting.prior import Prior

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Objective:
    """A likelihood, the plan of its parameters and the prior over them (None for maximum likelihood)."""

    likelihood: Likelihood
    plan: ParameterPlan
    prior: Prior | None

    def evaluate(self, working: Floats) -> Point:
        """Log density at one working vector with its gradient."""
        value, by_natural = self.likelihood.value_and_gradient(self.plan.natural(working))
        gradient = self.plan.jacobian(working).T @ by_natural
        if self.prior is not None:
            value += float(self.prior.log_density(working))
            gradient = gradient + self.prior.gradient_and_curvature(working)[0]
        return Point(working, value, gradient, by_natural)

    def hessian(self, point: Point) -> Floats:
        """Hessian at a point."""
        jacobian = self.plan.jacobian(point.place)
        curvature = jacobian.T @ self.likelihood.hessian(self.plan.natural(point.place)) @ jacobian
        if self.prior is not None:
            curvature += np.diag(self.prior.gradient_and_curvature(point.place)[1])
        return curvature + self.plan.bend(point.place, point.by_natural)

    def log_density(self, draws: Floats) -> Floats:
        """Log density of many working vectors (S, size), up to the likelihood's constant; (S,)."""
        values = self.likelihood.of_draws(self.plan.natural(draws))
        return values + self.prior.log_density(draws) if self.prior is not None else values

    def climb(self, start: Floats) -> Ascent:
        """The mode, from `start`."""
        return climb(self.evaluate, self.hessian, start)
