"""The mode of a large log's posterior in few passes over its drains, by successive quadratic approximation.

One pass gives value, gradient and Hessian by natural parameters, and in these the likelihood of a large log is nearly
quadratic. Over the working parameters the posterior is not: where the standard deviation of a pooled group is
estimated, that and the standardised effects form a curved ridge on which Newton's steps are short. So each step
maximises, without touching the drains, the quadratic approximation of the likelihood plus the exact prior under the
exact change of parameters; then one pass checks the result.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.fitting.likelihood import Expansion
from draincurve.pipeline.fitting.log_posterior import LogPosterior
from draincurve.pipeline.fitting.newton import Maximum, Point, limited_step, maximise, newton_step
from draincurve.schemas.array_types import Floats

QUADRATIC_TOLERANCE = 1e-13
MOST_PASSES = 60
_HALVINGS = 12

Pass = Callable[[Floats], Expansion]
"""One pass over the drains at natural parameters; it may sum over partitions of units on workers."""


@dataclass(frozen=True)
class _Quadratic:
    """The log likelihood around one vector of natural parameters, with a negative definite Hessian."""

    centre: Floats
    expansion: Expansion
    hessian: Floats

    def value_and_gradient(self, natural: Floats) -> tuple[float, Floats]:
        away = natural - self.centre
        bent = self.hessian @ away
        gradient = self.expansion.gradient
        return self.expansion.value + float(away @ (gradient + bent / 2.0)), gradient + bent


def maximise_by_quadratic_models(
    expand: Pass, posterior: LogPosterior, *, start: Floats, tolerance: float = QUADRATIC_TOLERANCE
) -> Maximum:
    """Iterate from working parameters until a step can gain less than `tolerance` x (1 + |log density|)."""
    point, expansion = _evaluated(expand, posterior, working=start)
    for passes in range(1, MOST_PASSES + 1):
        step, gain = _step(posterior, point, expansion=expansion)
        if gain <= tolerance * (1.0 + abs(point.value)):
            return Maximum(point, posterior.hessian(point, expansion.hessian), passes, True)
        improved = _improved(expand, posterior, point=point, step=step)
        if improved is None:
            near = gain <= 1e-7 * (1.0 + abs(point.value))
            return Maximum(point, posterior.hessian(point, expansion.hessian), passes, near)
        point, expansion = improved
    return Maximum(point, posterior.hessian(point, expansion.hessian), MOST_PASSES, False)


def _evaluated(expand: Pass, posterior: LogPosterior, *, working: Floats) -> tuple[Point, Expansion]:
    """The log posterior at working parameters by one pass, and the likelihood's expansion there."""
    expansion = expand(posterior.layout.natural(working))
    return posterior.point(working, value=expansion.value, natural_gradient=expansion.gradient), expansion


def _step(posterior: LogPosterior, point: Point, *, expansion: Expansion) -> tuple[Floats, float]:
    """(step, expected gain): to the mode of the quadratic model, or Newton's where that is no ascent direction.

    Far from the maximum the quadratic plus the prior can have a second mode, at a standard deviation of zero.
    """
    target = _quadratic_mode(posterior, point.working, expansion=expansion)
    step = target.working - point.working
    if float(step @ point.gradient) >= 0.0:
        return step, target.value - point.value
    step, gain = newton_step(posterior.hessian(point, expansion.hessian), point.gradient)
    return limited_step(step), gain


def _quadratic_mode(posterior: LogPosterior, start: Floats, *, expansion: Expansion) -> Point:
    """The mode of the quadratic model of the likelihood, together with the prior."""
    layout = posterior.layout
    eigenvalues, vectors = np.linalg.eigh(expansion.hessian)
    hessian = -(vectors * np.abs(eigenvalues)) @ vectors.T
    quadratic = _Quadratic(layout.natural(start), expansion, hessian)

    def evaluate(working: Floats) -> Point:
        value, gradient = quadratic.value_and_gradient(layout.natural(working))
        return posterior.point(working, value=value, natural_gradient=gradient)

    return maximise(evaluate, lambda point: posterior.hessian(point, hessian), start=start).point


def _improved(expand: Pass, posterior: LogPosterior, *, point: Point, step: Floats) -> tuple[Point, Expansion] | None:
    """The first point on the halved step with a larger value, or None."""
    for _ in range(_HALVINGS):
        trial, expansion = _evaluated(expand, posterior, working=point.working + step)
        if np.isfinite(trial.value) and trial.value > point.value:
            return trial, expansion
        step = step / 2.0
    return None
