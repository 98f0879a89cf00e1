"""The rating model: ordinal regression of colour or debris ratings on log hours, with a unit effect.

    P(rating <= k | h, x, unit u) = F(theta_k - slope * log h - x'coefficients - unit_sd * z_u),  z_u ~ N(0, 1)

Every drain is one look at one fill of oil, which is current-status data; read backwards, the model is an
accelerated-failure-time model for the hours to each rating (McCullagh 1980; Sun 2006, The Statistical Analysis of
Interval-censored Failure Time Data). Fitted by maximum likelihood, or by the posterior mode where a prior is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.fitting.likelihood import Likelihood, Ratings, slices_without_units
from pipeline.fitting.links import Link, link_named
from pipeline.fitting.newton import Ascent
from pipeline.fitting.objective import Objective
from pipeline.fitting.parameters import ParameterPlan
from pipeline.fitting.prior import prior_for
from schemas.errors import FitError
from schemas.settings import Priors

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_RUNS_OFF = 30.0  # linear predictors this far out mean a probability of 0 or 1: no finite answer


@dataclass(frozen=True)
class RatingFit:
    """A fitted rating model. Larger coefficients mean dirtier ratings; the log hours are on the scale given.

    thresholds : (K - 1,), ascending; hours_slope : a number, or None without log hours; coefficients : (p,);
    unit_sd : a number >= 0, or None without units; log_likelihood : marginal, without the prior;
    standard_errors : in the order thresholds, hours_slope, coefficients, unit_sd (those that are there), from the
    observed information (with a prior: from the curvature of the posterior at its mode);
    unit_labels and unit_effects (U,) : conditional mode of unit_sd * z of each unit, positive is dirtier.
    `objective`, `ascent` and `order` are what sampling goes on from; `centres` (hours first, then columns) is what
    was subtracted inside.
    """

    thresholds: Floats
    hours_slope: float | None
    coefficients: Floats
    unit_sd: float | None
    log_likelihood: float
    standard_errors: Floats
    link: str
    n_nodes: int
    converged: bool
    iterations: int
    unit_labels: tuple[object, ...]
    unit_effects: Floats
    centres: Floats
    objective: Objective
    ascent: Ascent
    order: Integers

    def natural_draws(self, working: Floats) -> tuple[Floats, Floats, Floats]:
        """Working draws (S, size) as thresholds (S, K - 1) on the scale given, columns (S, p + 1), unit sd (S,)."""
        plan = self.objective.plan
        natural = plan.natural(working)
        k = plan.levels - 1
        columns = natural[:, k : k + plan.columns]
        thresholds = natural[:, :k] + (columns @ self.centres)[:, None]
        spreads = np.abs(natural[:, -1]) if plan.has_units else np.zeros(len(natural))
        return thresholds, columns, spreads


def fit_rating_model(
    ratings: ArrayLike,
    log_hours: ArrayLike | None,
    design: ArrayLike | None,
    units: ArrayLike | None,
    link: str = "logit",
    n_nodes: int = 9,
    prior: Priors | None = None,
    ratings_high: ArrayLike | None = None,
    levels: int | None = None,
    pooled: Sequence[Sequence[int]] = (),
    column_scales: ArrayLike | None = None,
) -> RatingFit:
    """Fit the rating model.

    ratings : int (n,), 1..K; log_hours : (n,) or None, log of hours [h]; design : (n, p) or None, without an
    intercept; units : (n,) labels or None for no unit effect; link : logit, probit or cloglog; n_nodes : quadrature
    nodes a unit, 1 is the Laplace approximation; prior : None for maximum likelihood; ratings_high : upper ends
    where a range was typed; levels : K where the top rating does not occur; pooled : groups of design columns whose
    common spread is estimated (needs a prior); column_scales : (p,), factors on the prior sd of each column.

    Raises FitError, with the reason and what to try, where the input has another shape, or where maximum likelihood
    has no finite answer (one level only, perfect separation).
    """
    chosen = link_named(link)
    low, high, columns, k = _checked(ratings, ratings_high, log_hours, design, levels)
    if prior is None and pooled:
        raise FitError("pooled columns: their spread needs a prior; give one, or leave `pooled` empty")
    kept, low, high = (np.arange(1, k + 1), low, high) if prior is not None else _used_levels(low, high)
    order, starts, labels = _by_unit(units, low.size)
    centres = columns.mean(axis=0)
    data = Ratings(
        low[order],
        high[order],
        np.ascontiguousarray((columns - centres)[order]),
        starts,
        int(kept.size),
        units is not None,
    )
    has_hours = log_hours is not None
    plan = ParameterPlan(
        data.levels,
        columns.shape[1],
        0 if has_hours else None,
        tuple(tuple(int(j) + int(has_hours) for j in group) for group in pooled),
        data.has_units,
        prior is not None,
    )
    scales = np.ones(columns.shape[1])
    if column_scales is not None:
        scales[int(has_hours) :] = np.asarray(column_scales, dtype=float)
    objective = Objective(
        Likelihood(data, chosen, n_nodes), plan, prior_for(plan, prior, chosen, scales) if prior else None
    )
    ascent = objective.climb(_start(objective, chosen))
    return _finished(objective, ascent, kept, k, centres, has_hours, labels, order, link, n_nodes)


def _checked(
    ratings: ArrayLike,
    ratings_high: ArrayLike | None,
    log_hours: ArrayLike | None,
    design: ArrayLike | None,
    levels: int | None,
) -> tuple[Integers, Integers, Floats, int]:
    """(low, high, columns with the log hours first, K), with shapes and values checked."""
    low = np.asarray(ratings)
    if low.ndim != 1 or low.size == 0:
        raise FitError(f"ratings: expected a list of at least one rating, found shape {low.shape}")
    high = low if ratings_high is None else np.asarray(ratings_high)
    for name, values in (("ratings", low), ("ratings_high", high)):
        if not np.issubdtype(values.dtype, np.integer) and not np.all(np.equal(np.mod(values, 1), 0)):
            raise FitError(f"{name}: expected whole numbers from 1 up")
    low, high = low.astype(np.int64), high.astype(np.int64)
    k = int(high.max()) if levels is None else levels
    if low.min() < 1 or high.max() > k or high.shape != low.shape or np.any(high < low):
        raise FitError(f"ratings: expected 1 to {k}, with each range's lower end first")
    columns = [] if log_hours is None else [np.asarray(log_hours, dtype=float).reshape(-1, 1)]
    if design is not None:
        columns.append(np.asarray(design, dtype=float).reshape(low.size, -1))
    matrix = np.hstack(columns) if columns else np.empty((low.size, 0))
    if matrix.shape[0] != low.size:
        raise FitError(f"log_hours: expected {low.size} values, one a rating, found {matrix.shape[0]}")
    if not np.all(np.isfinite(matrix)):
        raise FitError("log_hours or design: found a missing or infinite value; leave such rows out first")
    return low, high, matrix, k


def _used_levels(low: Integers, high: Integers) -> tuple[Integers, Integers, Integers]:
    """Levels that maximum likelihood can tell apart, and the ratings renumbered on them.

    A level that no drain shows has probability zero at the maximum: its thresholds fall together.
    """
    used = np.unique(low[low == high])
    if used.size < 2:
        raise FitError("ratings: all the same, so maximum likelihood has no finite answer; give a prior")
    lower = np.searchsorted(used, low) + 1
    upper = np.searchsorted(used, high, side="right")
    return used, np.minimum(lower, used.size).astype(np.int64), np.maximum(upper, lower).astype(np.int64)


def _by_unit(units: ArrayLike | None, rows: int) -> tuple[Integers, Integers, tuple[object, ...]]:
    """(order that sorts rows by unit, slice bounds, labels)."""
    if units is None:
        return np.arange(rows), slices_without_units(rows), ()
    labels, index = np.unique(np.asarray(units), return_inverse=True)
    if index.size != rows:
        raise FitError(f"units: expected {rows} labels, one a rating, found {index.size}")
    counts = np.bincount(index, minlength=labels.size)
    return np.argsort(index, kind="stable"), np.concatenate(([0], np.cumsum(counts))), tuple(labels.tolist())


def _start(objective: Objective, link: Link) -> Floats:
    """Thresholds from the marginal shares, the rest at its prior median (no prior: 0, and a spread of 0.5)."""
    plan, data = objective.plan, objective.likelihood.ratings
    start = np.zeros(plan.size) if objective.prior is None else objective.prior.start.copy()
    middle = (data.low + data.high) / 2.0
    below = np.array([np.sum(middle <= k + 0.25) for k in range(1, plan.levels)])
    cuts = link.quantile((below + 0.5) / (data.low.size + 1.0))
    start[0] = cuts[0]
    start[plan.gaps] = np.log(np.maximum(np.diff(cuts), 0.1))
    if plan.has_units and objective.prior is None:
        start[-1] = 0.5 * link.scale
    return start


def _finished(
    objective: Objective,
    ascent: Ascent,
    kept: Integers,
    k: int,
    centres: Floats,
    has_hours: bool,
    labels: tuple[object, ...],
    order: Integers,
    link: str,
    n_nodes: int,
) -> RatingFit:
    """Results on the scale given: centring undone, unused levels put back."""
    plan, likelihood = objective.plan, objective.likelihood
    natural = plan.natural(ascent.point.place)
    thresholds_inside = natural[: plan.levels - 1]
    columns = natural[plan.levels - 1 : plan.levels - 1 + plan.columns]
    spread = float(abs(natural[-1])) if plan.has_units else None
    if objective.prior is None:
        _refuse_separation(objective, natural)
    undo = np.eye(plan.natural_size)
    undo[: plan.levels - 1, plan.levels - 1 : plan.levels - 1 + plan.columns] = centres
    to_natural = undo @ plan.jacobian(ascent.point.place)
    covariance = to_natural @ np.linalg.pinv(-ascent.hessian, hermitian=True) @ to_natural.T
    errors = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    thresholds = thresholds_inside + centres @ columns
    log_likelihood, _ = likelihood.value_and_gradient(natural)
    place = np.searchsorted(kept, np.arange(1, k), side="right")
    padded = np.concatenate(([-np.inf], thresholds))
    padded_errors = np.concatenate(([np.nan], errors[: plan.levels - 1]))
    return RatingFit(
        thresholds=padded[place],
        hours_slope=float(columns[0]) if has_hours else None,
        coefficients=columns[1:] if has_hours else columns,
        unit_sd=spread,
        log_likelihood=log_likelihood,
        standard_errors=np.concatenate((padded_errors[place], errors[plan.levels - 1 :])),
        link=link,
        n_nodes=n_nodes,
        converged=ascent.converged,
        iterations=ascent.iterations,
        unit_labels=labels,
        unit_effects=likelihood.modes * natural[-1] if plan.has_units else np.empty(0),
        centres=centres,
        objective=objective,
        ascent=ascent,
        order=order,
    )


def _refuse_separation(objective: Objective, natural: Floats) -> None:
    """Raise FitError where the maximum lies at infinity, naming what separates."""
    plan, data = objective.plan, objective.likelihood.ratings
    columns = natural[plan.levels - 1 : plan.levels - 1 + plan.columns]
    limit = _RUNS_OFF * objective.likelihood.link.scale
    reach = np.abs(columns) * np.ptp(data.design, axis=0) if plan.columns else np.empty(0)
    runs_off = np.flatnonzero(reach > limit)
    if runs_off.size or (plan.has_units and abs(natural[-1]) > limit):
        what = f"column {runs_off[0] + 1}" if runs_off.size else "the unit effect"
        raise FitError(
            f"{what} tells the ratings apart perfectly, so maximum likelihood has no finite answer; give a prior"
        )
