"""Damped Newton ascent for a smooth function with an exact gradient and Hessian.

Negative curvature is turned round and small curvature lifted (Nocedal & Wright 2006, section 3.4), then the step is
halved until the value rises enough (Armijo). Few passes over the data, which are what costs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TOLERANCE = 1e-12
_HALVINGS = 40
_LONGEST_STEP = 8.0


@dataclass(frozen=True)
class Point:
    """One evaluation: working vector, value, gradient, and the gradient by natural parameters behind it."""

    place: Floats
    value: float
    gradient: Floats
    by_natural: Floats


@dataclass(frozen=True)
class Ascent:
    """Where the ascent ended: the point, the Hessian there, iterations, and whether it converged."""

    point: Point
    hessian: Floats
    iterations: int
    converged: bool


def climb(
    evaluate: Callable[[Floats], Point],
    hessian: Callable[[Point], Floats],
    start: Floats,
    most: int = 100,
    tolerance: float = TOLERANCE,
) -> Ascent:
    """Climb from `start` until half the squared Newton decrement is under `tolerance` x (1 + |value|)."""
    point = evaluate(start)
    for iteration in range(1, most + 1):
        curvature = hessian(point)
        step, gain = newton_step(curvature, point.gradient)
        if gain <= tolerance * (1.0 + abs(point.value)):
            return Ascent(_nearer(evaluate, curvature, point, step), curvature, iteration, True)
        step = not_too_long(step)
        risen = _line_search(evaluate, point, step)
        if risen is None:
            return Ascent(point, curvature, iteration, gain <= 1e-7 * (1.0 + abs(point.value)))
        point = risen
    return Ascent(point, hessian(point), most, False)


def _nearer(evaluate: Callable[[Floats], Point], curvature: Floats, point: Point, step: Floats) -> Point:
    """The end of the last step where it is nearer to the mode: one evaluation doubles the digits."""
    last = evaluate(point.place + step)
    if np.isfinite(last.value) and newton_step(curvature, last.gradient)[1] < 0.5 * float(point.gradient @ step):
        return last
    return point


def _line_search(evaluate: Callable[[Floats], Point], point: Point, step: Floats) -> Point | None:
    """The first point on the halved step that rises enough, or None."""
    for _ in range(_HALVINGS):
        trial = evaluate(point.place + step)
        if np.isfinite(trial.value) and trial.value >= point.value + 1e-4 * float(point.gradient @ step):
            return trial
        step = step / 2.0
    return None


def newton_step(hessian: Floats, gradient: Floats) -> tuple[Floats, float]:
    """(uphill step, half the squared decrement), with the curvature made negative definite."""
    eigenvalues, vectors = np.linalg.eigh(-hessian)
    floor = max(1e-10, 1e-12 * float(np.max(np.abs(eigenvalues))))
    along = vectors.T @ gradient
    step = vectors @ (along / np.maximum(np.abs(eigenvalues), floor))
    return step, 0.5 * float(gradient @ step)


def not_too_long(step: Floats) -> Floats:
    """The step, shortened where it leads so far that its quadratic means nothing."""
    return np.asarray(step * min(1.0, _LONGEST_STEP / np.max(np.abs(step))))
