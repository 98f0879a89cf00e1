"""Damped Newton maximisation of a smooth function with an exact gradient and Hessian.

Eigenvalues of the negative Hessian are replaced by their absolute values and kept off zero (Nocedal & Wright 2006,
section 3.4); then the step is halved until the value increases enough (Armijo).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from draincurve.schemas.array_types import Floats

TOLERANCE = 1e-12
_HALVINGS = 40
_LONGEST_STEP = 8.0


@dataclass(frozen=True)
class Point:
    """Working parameters, value and gradient there, and the log likelihood's gradient by natural parameters."""

    working: Floats
    value: float
    gradient: Floats
    natural_gradient: Floats


@dataclass(frozen=True)
class Maximum:
    """The end of a maximisation: the point, the Hessian there, iterations, and whether it converged."""

    point: Point
    hessian: Floats
    iterations: int
    converged: bool


def maximise(
    evaluate: Callable[[Floats], Point],
    hessian: Callable[[Point], Floats],
    *,
    start: Floats,
    max_iterations: int = 100,
    tolerance: float = TOLERANCE,
) -> Maximum:
    """Iterate from `start` until half the squared Newton decrement is under `tolerance` x (1 + |value|)."""
    point = evaluate(start)
    for iteration in range(1, max_iterations + 1):
        curvature = hessian(point)
        step, gain = newton_step(curvature, point.gradient)
        if gain <= tolerance * (1.0 + abs(point.value)):
            return Maximum(_polished(evaluate, point, curvature=curvature, step=step), curvature, iteration, True)
        improved = _line_search(evaluate, point, step=limited_step(step))
        if improved is None:
            return Maximum(point, curvature, iteration, gain <= 1e-7 * (1.0 + abs(point.value)))
        point = improved
    return Maximum(point, hessian(point), max_iterations, False)


def _polished(evaluate: Callable[[Floats], Point], point: Point, *, curvature: Floats, step: Floats) -> Point:
    """The end of the last step where it is nearer to the maximum: one evaluation doubles the correct digits."""
    last = evaluate(point.working + step)
    if np.isfinite(last.value) and newton_step(curvature, last.gradient)[1] < 0.5 * float(point.gradient @ step):
        return last
    return point


def _line_search(evaluate: Callable[[Floats], Point], point: Point, *, step: Floats) -> Point | None:
    """The first point on the halved step whose value increases enough, or None."""
    for _ in range(_HALVINGS):
        trial = evaluate(point.working + step)
        if np.isfinite(trial.value) and trial.value >= point.value + 1e-4 * float(point.gradient @ step):
            return trial
        step = step / 2.0
    return None


def newton_step(hessian: Floats, gradient: Floats) -> tuple[Floats, float]:
    """(ascent step, half the squared decrement), with the Hessian made negative definite."""
    eigenvalues, vectors = np.linalg.eigh(-hessian)
    floor = max(1e-10, 1e-12 * float(np.max(np.abs(eigenvalues))))
    along = vectors.T @ gradient
    step = vectors @ (along / np.maximum(np.abs(eigenvalues), floor))
    return step, 0.5 * float(gradient @ step)


def limited_step(step: Floats) -> Floats:
    """The step, shortened where it is so long that the quadratic approximation is meaningless."""
    return np.asarray(step * min(1.0, _LONGEST_STEP / np.max(np.abs(step))))
