"""The function that the fit maximises: log likelihood, plus log prior if there is one, over working parameters."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from draincurve.pipeline.fitting.engine.local_engine import Engine, PartitionedLikelihood
from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.log_posterior import LogPosterior
from draincurve.pipeline.fitting.newton import TOLERANCE, Maximum, Point, maximise
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import Prior
from draincurve.pipeline.fitting.successive_quadratic import QUADRATIC_TOLERANCE, maximise_by_quadratic_models
from draincurve.pipeline.processing import MOST_WARM_UNITS, WARM_START_EVERY
from draincurve.schemas.array_types import Floats, Integers


@dataclass(frozen=True)
class Objective:
    """A likelihood, the layout of its parameters and the prior over them (None for maximum likelihood).

    single_pass : whether a step of the optimiser takes value, gradient and Hessian from one pass over the drains.
    """

    likelihood: Likelihood
    layout: ParameterLayout
    prior: Prior | None
    single_pass: bool = False

    @property
    def log_posterior(self) -> LogPosterior:
        """Layout and prior, without the likelihood."""
        return LogPosterior(self.layout, self.prior)

    def evaluate(self, working: Floats) -> Point:
        """Value and gradient at working parameters (size,)."""
        value, gradient = self.likelihood.value_and_gradient(self.layout.natural(working))
        return self.log_posterior.point(working, value=value, natural_gradient=gradient)

    def hessian(self, point: Point) -> Floats:
        """Hessian at a point, (size, size)."""
        return self.log_posterior.hessian(point, self.likelihood.hessian(self.layout.natural(point.working)))

    def log_density(self, draws: Floats) -> Floats:
        """Unnormalised log density of many working vectors (S, size); (S,)."""
        values = self.likelihood.of_draws(self.layout.natural(draws))
        return values + self.prior.log_density(draws) if self.prior is not None else values

    def of_units(self, units: Integers) -> Objective:
        """The same objective over the ratings of some units only."""
        return replace(self, likelihood=self.likelihood.of_units(units))

    def maximise(
        self,
        start: Floats,
        *,
        near_mode: bool = False,
        tolerance: float = TOLERANCE,
        engine: Engine | None = None,
    ) -> Maximum:
        """The mode, searched from working parameters `start` (size,).

        near_mode : whether the start is near the mode, so that a large log needs no better start from some of its
        units; tolerance : of the log density, for small logs and starts near the mode; engine : where the passes
        over a large log run, None for this process without partitions.
        """
        if not (self.single_pass and self.likelihood.has_expansion):
            return maximise(self.evaluate, self.hessian, start=start, tolerance=tolerance)
        if near_mode:
            return self._maximise_large(self.likelihood, start, tolerance=tolerance)
        subset = self.likelihood.of_units(_warm_start_units(self.likelihood.modes.size))
        start = self._maximise_large(subset, start).point.working
        if engine is None:
            return self._maximise_large(self.likelihood, start)
        with engine.partitioned(self.likelihood) as partitioned:
            maximum = self._maximise_large(partitioned, start)
            self.likelihood.modes[:] = partitioned.modes()
        return maximum

    def _maximise_large(
        self, likelihood: Likelihood | PartitionedLikelihood, start: Floats, *, tolerance: float = QUADRATIC_TOLERANCE
    ) -> Maximum:
        return maximise_by_quadratic_models(
            likelihood.expansion, self.log_posterior, start=start, tolerance=tolerance
        )


def _warm_start_units(units: int) -> Integers:
    """Indices of the units that give the start, always the same; random, since the log's order may be periodic."""
    count = min(units // WARM_START_EVERY, MOST_WARM_UNITS)
    return np.sort(np.random.default_rng(0).permutation(units)[:count]).astype(np.int64)
