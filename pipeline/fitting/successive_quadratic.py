"""The mode of a large log in few passes over its drains.

A pass gives value, gradient and Hessian by natural parameters, in which the likelihood of a large log is nearly
quadratic. Over the working parameters it is not: where a group's spread is estimated, spread and standardised effects
lie along a bent ridge, on which Newton's steps are short. So each step climbs, without touching the drains, the
quadratic of the likelihood with the prior and the bend of the parameters taken exactly; then one pass checks it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.fitting.likelihood import Summary
from draincurve.pipeline.fitting.log_posterior import density_hessian, density_point
from draincurve.pipeline.fitting.newton import Ascent, Point, climb, newton_step, not_too_long
from draincurve.pipeline.fitting.parameters import ParameterPlan
from draincurve.pipeline.fitting.prior import Prior

Floats = NDArray[np.float64]

CLOSE = 1e-13
MOST_PASSES = 60
_HALVINGS = 12


@dataclass(frozen=True)
class _Quadratic:
    """The log likelihood about one vector of natural parameters, its curvature made negative definite."""

    place: Floats
    summary: Summary
    curvature: Floats

    def value_and_gradient(self, natural: Floats) -> tuple[float, Floats]:
        away = natural - self.place
        bent = self.curvature @ away
        return self.summary.value + float(away @ (self.summary.gradient + bent / 2.0)), self.summary.gradient + bent


def climb_in_few_passes(
    summary: Callable[[Floats], Summary],
    plan: ParameterPlan,
    prior: Prior | None,
    start: Floats,
    tolerance: float = CLOSE,
) -> Ascent:
    """Climb from a working vector until a step can gain less than `tolerance` x (1 + |log density|).

    summary : one pass at natural parameters; it may add up partitions of units, wherever they lie.
    """
    found = summary(plan.natural(start))
    point = density_point(plan, prior, start, found.value, found.gradient)
    for passes in range(1, MOST_PASSES + 1):
        step, gain = _step(plan, prior, point, found)
        if gain <= tolerance * (1.0 + abs(point.value)):
            return Ascent(point, density_hessian(plan, prior, point, found.hessian), passes, True)
        risen = _risen(summary, plan, prior, point, step)
        if risen is None:
            near = gain <= 1e-7 * (1.0 + abs(point.value))
            return Ascent(point, density_hessian(plan, prior, point, found.hessian), passes, near)
        point, found = risen
    return Ascent(point, density_hessian(plan, prior, point, found.hessian), MOST_PASSES, False)


def _step(plan: ParameterPlan, prior: Prior | None, point: Point, found: Summary) -> tuple[Floats, float]:
    """(step, what it is to gain): to the mode of the quadratic, or Newton's, where that mode does not lie uphill.

    Far from the mode the quadratic with its prior can have a second mode, at a spread of nothing.
    """
    aim = _quadratic_mode(plan, prior, point.place, found)
    step = aim.place - point.place
    if float(step @ point.gradient) >= 0.0:
        return step, aim.value - point.value
    step, gain = newton_step(density_hessian(plan, prior, point, found.hessian), point.gradient)
    return not_too_long(step), gain


def _quadratic_mode(plan: ParameterPlan, prior: Prior | None, place: Floats, found: Summary) -> Point:
    """Where the quadratic of the likelihood and the prior together are highest."""
    eigenvalues, vectors = np.linalg.eigh(found.hessian)
    curvature = -(vectors * np.abs(eigenvalues)) @ vectors.T
    model = _Quadratic(plan.natural(place), found, curvature)

    def evaluate(working: Floats) -> Point:
        return density_point(plan, prior, working, *model.value_and_gradient(plan.natural(working)))

    def hessian(point: Point) -> Floats:
        return density_hessian(plan, prior, point, curvature)

    return climb(evaluate, hessian, place).point


def _risen(
    summary: Callable[[Floats], Summary], plan: ParameterPlan, prior: Prior | None, point: Point, step: Floats
) -> tuple[Point, Summary] | None:
    """The first place on the halved step that lies higher, or None."""
    for _ in range(_HALVINGS):
        working = point.place + step
        found = summary(plan.natural(working))
        trial = density_point(plan, prior, working, found.value, found.gradient)
        if np.isfinite(trial.value) and trial.value > point.value:
            return trial, found
        step = step / 2.0
    return None
