"""What the fit climbs: log likelihood, plus log prior where there is one, over the working parameters."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.fitting.engine.local_engine import Engine
from draincurve.pipeline.fitting.likelihood import Integers, Likelihood
from draincurve.pipeline.fitting.log_posterior import density_hessian, density_point
from draincurve.pipeline.fitting.newton import TOLERANCE, Ascent, Point, climb
from draincurve.pipeline.fitting.parameters import ParameterPlan
from draincurve.pipeline.fitting.prior import Prior
from draincurve.pipeline.fitting.successive_quadratic import climb_in_few_passes

Floats = NDArray[np.float64]

WARM_START_EVERY = 20
MOST_WARM_UNITS = 50_000
"""In a large log one unit in so many, and no more units than this, are climbed over first: their mode is near the
whole log's."""


@dataclass(frozen=True)
class Objective:
    """A likelihood, the plan of its parameters and the prior over them (None for maximum likelihood)."""

    likelihood: Likelihood
    plan: ParameterPlan
    prior: Prior | None

    def evaluate(self, working: Floats) -> Point:
        """Log density at one working vector with its gradient."""
        value, by_natural = self.likelihood.value_and_gradient(self.plan.natural(working))
        return density_point(self.plan, self.prior, working, value, by_natural)

    def hessian(self, point: Point) -> Floats:
        """Hessian at a point."""
        by_natural = self.likelihood.hessian(self.plan.natural(point.place))
        return density_hessian(self.plan, self.prior, point, by_natural)

    def log_density(self, draws: Floats) -> Floats:
        """Log density of many working vectors (S, size), up to the likelihood's constant; (S,)."""
        values = self.likelihood.of_draws(self.plan.natural(draws))
        return values + self.prior.log_density(draws) if self.prior is not None else values

    def of_units(self, units: Integers) -> Objective:
        """The same over some units' ratings only."""
        return replace(self, likelihood=self.likelihood.of_units(units))

    def climb(
        self, start: Floats, near: bool = False, tolerance: float = TOLERANCE, engine: Engine | None = None
    ) -> Ascent:
        """The mode, from `start`; where a pass over the drains is what costs, in few of them.

        near : whether the start is near the mode, so that no share of the units need be climbed over first;
        tolerance : of the log density, where the start is near or the log small; engine : where such passes are
        made, by itself here over the whole log at once.
        """
        if not self.likelihood.in_one_pass:
            return climb(self.evaluate, self.hessian, start, tolerance=tolerance)
        if near:
            return climb_in_few_passes(self.likelihood.summary, self.plan, self.prior, start, tolerance)
        share = self.likelihood.of_units(_some_units(self.likelihood.modes.size))
        start = climb_in_few_passes(share.summary, self.plan, self.prior, start).point.place
        if engine is None:
            return climb_in_few_passes(self.likelihood.summary, self.plan, self.prior, start)
        with engine.held(self.likelihood) as held:
            ascent = climb_in_few_passes(held.summary, self.plan, self.prior, start)
            self.likelihood.modes[:] = held.modes()
        return ascent


def _some_units(units: int) -> Integers:
    """Places of the units climbed over first, always the same; at random, since a step may keep time with the log."""
    count = min(units // WARM_START_EVERY, MOST_WARM_UNITS)
    return np.sort(np.random.default_rng(0).permutation(units)[:count]).astype(np.int64)
