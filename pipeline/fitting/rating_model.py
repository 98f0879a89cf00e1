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

from draincurve.pipeline.describing.coded_design import CodedDesign
from draincurve.pipeline.fitting.engine.local_engine import Engine
from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import Link, link_named
from draincurve.pipeline.fitting.newton import Ascent
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.parameters import ParameterPlan
from draincurve.pipeline.fitting.prior import prior_for
from draincurve.pipeline.fitting.rating_input import (
    RatingInput,
    by_unit,
    checked_input,
    checked_options,
    in_order,
    refuse_unseen_columns,
    refuse_unseen_levels,
)
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Priors

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_RUNS_OFF = 30.0  # linear predictors this far out mean a probability of 0 or 1: no finite answer
_FLAT = 100.0  # a standard error of the linear predictor that only a flat likelihood has


@dataclass(frozen=True)
class PointFit:
    """Point estimates of a rating model. Larger coefficients mean dirtier ratings; log hours on the scale given.

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
    design: ArrayLike | CodedDesign | None,
    units: ArrayLike | None,
    link: str = "logit",
    n_nodes: int = 9,
    prior: Priors | None = None,
    ratings_high: ArrayLike | None = None,
    levels: int | None = None,
    pooled: Sequence[Sequence[int]] = (),
    column_scales: ArrayLike | None = None,
    column_names: Sequence[str] = (),
    engine: Engine | None = None,
) -> PointFit:
    """Fit the rating model.

    ratings : int (n,), 1..K; log_hours : (n,) or None, log of hours [h]; design : (n, p) or None, without an
    intercept, or coded with the log hours as its first number; units : (n,) labels or None for no unit effect;
    link : logit, probit or cloglog; n_nodes : quadrature nodes a unit, 1 is the Laplace approximation; prior : None
    for maximum likelihood; ratings_high : upper ends where a range was typed; levels : K where the top rating does
    not occur; pooled : groups of design columns whose common spread is estimated (needs a prior); column_scales :
    (p,), factors on the prior sd of each column; column_names : (p,), how an error names the design's columns;
    engine : where the passes over a large log are made.

    Raises FitError, with the reason and what to try, where the input has another shape, or where maximum likelihood
    has no finite answer (a level that does not occur, perfect separation).
    """
    chosen = link_named(link)
    given = checked_input(ratings, ratings_high, log_hours, design, levels, column_names)
    shift = int(given.has_hours)
    scales = np.ones(given.columns.shape[1])
    own = scales[shift:] if column_scales is None else np.asarray(column_scales, dtype=float)
    checked_options(n_nodes, pooled, own, scales.size - shift)
    scales[shift:] = own
    if prior is None:
        if pooled:
            raise FitError("pooled columns: their spread needs a prior; give one, or leave `pooled` empty")
        refuse_unseen_levels(given)
        refuse_unseen_columns(given)
    order, starts, labels = by_unit(units, given.low.size)
    centres = given.means()
    data = Ratings(
        in_order(given.low, order),
        in_order(given.high, order),
        given.centred(centres, order),
        starts,
        given.levels,
        units is not None,
    )
    plan = ParameterPlan(
        data.levels,
        scales.size,
        0 if given.has_hours else None,
        tuple(tuple(int(j) + shift for j in group) for group in pooled),
        data.has_units,
        prior is not None,
    )
    objective = Objective(
        Likelihood(data, chosen, n_nodes), plan, prior_for(plan, prior, chosen, scales) if prior else None
    )
    ascent = objective.climb(_start(objective, chosen), engine=engine)
    return _finished(objective, ascent, given, centres, labels, order, n_nodes)


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
    given: RatingInput,
    centres: Floats,
    labels: tuple[object, ...],
    order: Integers,
    n_nodes: int,
) -> PointFit:
    """Results on the scale given: centring undone."""
    plan, likelihood = objective.plan, objective.likelihood
    natural = plan.natural(ascent.point.place)
    k = plan.levels - 1
    columns = natural[k : k + plan.columns]
    jacobian, covariance = plan.jacobian(ascent.point.place), _covariance(-ascent.hessian)
    if objective.prior is None:
        inside = np.sqrt(np.diag(jacobian @ covariance @ jacobian.T))
        _refuse_separation(objective, natural, inside, given)
    undo = np.eye(plan.natural_size)
    undo[:k, k : k + plan.columns] = centres
    errors = np.sqrt(np.diag(undo @ jacobian @ covariance @ jacobian.T @ undo.T))
    log_prior = 0.0 if objective.prior is None else float(objective.prior.log_density(ascent.point.place))
    return PointFit(
        thresholds=natural[:k] + centres @ columns,
        hours_slope=float(columns[0]) if given.has_hours else None,
        coefficients=columns[1:] if given.has_hours else columns,
        unit_sd=float(abs(natural[-1])) if plan.has_units else None,
        log_likelihood=ascent.point.value - log_prior,
        standard_errors=errors,
        link=likelihood.link.name,
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


def _covariance(information: Floats) -> Floats:
    """Inverse information; directions without information get a very large variance, never none."""
    eigenvalues, vectors = np.linalg.eigh(information)
    held = np.maximum(eigenvalues, 1e-14 * max(1.0, float(eigenvalues[-1])))
    return np.asarray((vectors / held) @ vectors.T)


def _refuse_separation(objective: Objective, natural: Floats, errors: Floats, given: RatingInput) -> None:
    """Raise FitError where the maximum lies at infinity, naming what separates.

    There the ascent stops once nothing is to be gained: far out, or, with short tails, where all is flat.
    """
    plan, data = objective.plan, objective.likelihood.ratings
    scale = objective.likelihood.link.scale
    place = slice(plan.levels - 1, plan.levels - 1 + plan.columns)
    span = np.ptp(data.design, axis=0)
    far = np.abs(natural[place]) * span > _RUNS_OFF * scale
    flat = errors[place] * span > _FLAT * scale
    what = ""
    if np.any(far | flat):
        what = given.column_name(int(np.argmax(errors[place] * span)))
    elif plan.has_units and (abs(natural[-1]) > _RUNS_OFF * scale or errors[-1] > _FLAT * scale):
        what = "the unit effect"
    if what:
        raise FitError(
            f"{what} tells the ratings apart perfectly, so maximum likelihood has no finite answer; give a prior"
        )
