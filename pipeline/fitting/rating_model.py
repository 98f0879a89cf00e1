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
from numpy.typing import ArrayLike

from draincurve.pipeline.describing import CompactDesign
from draincurve.pipeline.fitting.engine.local_engine import Engine
from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import Link, link_named
from draincurve.pipeline.fitting.newton import Maximum
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import prior_for
from draincurve.pipeline.fitting.rating_input import (
    RatingInput,
    by_unit,
    check_options,
    checked_input,
    in_order,
    refuse_unidentified_columns,
    refuse_unused_levels,
)
from draincurve.pipeline.processing import fit_processing
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Priors

_SUSPECT_PREDICTOR = 30.0  # a linear predictor of this size means a probability of 0 or 1
_SUSPECT_ERROR = 100.0  # standard error of a linear predictor, which a flat likelihood gives
_LONGEST_STEP = 1e3  # in linear predictors, along which the fall of the likelihood is examined
_LEAST_FALL = 1e-3  # of the fall that the curvature predicts; less is rounding, or none at all


@dataclass(frozen=True)
class PointFit:
    """Point estimates of a rating model. Larger coefficients mean dirtier ratings; log hours on the scale given.

    thresholds : (K - 1,), ascending; hours_slope : a number, or None without log hours; coefficients : (p,);
    unit_sd : a number >= 0, or None without units; log_likelihood : marginal, without the prior;
    standard_errors : in the order thresholds, hours_slope, coefficients, unit_sd (those that are there), from the
    observed information (with a prior: from the curvature of the posterior at its mode); unit_labels, unit_effects :
    (U,), conditional mode of unit_sd * z of each unit, positive is dirtier; centres : (p + 1,), the means that were
    subtracted inside, log hours first; objective, maximum, order : the fitted function, its maximum, and the order in
    which it has the rows, for sampling.
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
    maximum: Maximum
    order: Integers

    def natural_draws(self, working: Floats) -> tuple[Floats, Floats, Floats]:
        """Thresholds (S, K - 1), coefficients (S, p + 1) and unit sd (S,) of working draws, on the scale given."""
        layout = self.objective.layout
        natural = layout.natural(working)
        k = layout.levels - 1
        columns = natural[:, k : k + layout.columns]
        thresholds = natural[:, :k] + (columns @ self.centres)[:, None]
        unit_sd = np.abs(natural[:, -1]) if layout.has_units else np.zeros(len(natural))
        return thresholds, columns, unit_sd


def fit_rating_model(
    ratings: ArrayLike,
    log_hours: ArrayLike | None,
    design: ArrayLike | CompactDesign | None,
    units: ArrayLike | None,
    *,
    link: str = "logit",
    n_nodes: int = 9,
    prior: Priors | None = None,
    ratings_high: ArrayLike | None = None,
    levels: int | None = None,
    pooled: Sequence[Sequence[int]] = (),
    column_scales: ArrayLike | None = None,
    column_means: ArrayLike | None = None,
    column_names: Sequence[str] = (),
    engine: Engine | None = None,
    single_pass: bool | None = None,
    start: Floats | None = None,
) -> PointFit:
    """Fit the rating model.

    ratings : int (n,), 1..K; log_hours : (n,) or None, log of hours [h]; design : (n, p) or None, without an
    intercept, or coded with the log hours as its first number; units : (n,) labels or None for no unit effect;
    link : logit, probit or cloglog; n_nodes : quadrature nodes a unit, 1 is the Laplace approximation; prior : None
    for maximum likelihood; ratings_high : upper ends where a range was typed; levels : K where the top rating does
    not occur; pooled : groups of design columns whose standard deviation is estimated (needs a prior);
    column_scales : (p,), factors on the prior sd of each column; column_means : (p,), prior mean of each column's
    coefficient for the logit link; column_names : (p,), the design's columns in
    errors; engine : where the passes over a large log run; single_pass : whether a step of the optimiser takes value,
    gradient and Hessian from one pass over the drains, None for what the number of units calls for; start : working
    parameters near the answer, such as those of nearly the same log, None for a start from shares and priors.

    Raises FitError, with the reason and what to try, where the input has the wrong shape, or where maximum likelihood
    has no finite answer (a level that does not occur, perfect separation).
    """
    chosen = link_named(link)
    given = checked_input(
        ratings, ratings_high, log_hours=log_hours, design=design, levels=levels, column_names=column_names
    )
    shift = int(given.has_hours)
    scales, means = np.ones(given.columns.shape[1]), np.zeros(given.columns.shape[1])
    design_scales = scales[shift:] if column_scales is None else np.asarray(column_scales, dtype=float)
    design_means = means[shift:] if column_means is None else np.asarray(column_means, dtype=float)
    check_options(n_nodes, pooled, scales=design_scales, means=design_means, design_columns=scales.size - shift)
    scales[shift:], means[shift:] = design_scales, design_means
    if prior is None:
        if pooled:
            raise FitError("pooled columns: their standard deviation needs a prior; give one, or no `pooled`")
        refuse_unused_levels(given)
        refuse_unidentified_columns(given)
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
    layout = ParameterLayout(
        levels=data.levels,
        columns=scales.size,
        hours_column=0 if given.has_hours else None,
        pooled=tuple(tuple(int(j) + shift for j in group) for group in pooled),
        has_units=data.has_units,
        log_scale=prior is not None,
    )
    working_prior = prior_for(layout, prior, link=chosen, column_scales=scales, column_means=means) if prior else None
    if single_pass is None:
        single_pass = fit_processing(units=starts.size - 1, drains=given.low.size).single_pass
    objective = Objective(Likelihood(data, chosen, nodes=n_nodes), layout, working_prior, single_pass)
    maximum = objective.maximise(_start(objective, chosen) if start is None else start, engine=engine)
    return _finished(objective, maximum, given=given, centres=centres, labels=labels, order=order, n_nodes=n_nodes)


def _start(objective: Objective, link: Link) -> Floats:
    """Thresholds from the marginal shares, the rest at its prior median (without a prior 0, and a unit sd of 0.5)."""
    layout, data = objective.layout, objective.likelihood.ratings
    start = np.zeros(layout.size) if objective.prior is None else objective.prior.median.copy()
    middle = (data.low + data.high) / 2.0
    below = np.array([np.sum(middle <= k + 0.25) for k in range(1, layout.levels)])
    thresholds = link.quantile((below + 0.5) / (data.low.size + 1.0))
    start[0] = thresholds[0]
    start[layout.gaps] = np.log(np.maximum(np.diff(thresholds), 0.1))
    if layout.has_units and objective.prior is None:
        start[-1] = 0.5 * link.scale
    return start


def _finished(
    objective: Objective,
    maximum: Maximum,
    *,
    given: RatingInput,
    centres: Floats,
    labels: tuple[object, ...],
    order: Integers,
    n_nodes: int,
) -> PointFit:
    """Results on the scale given: centring undone."""
    layout, likelihood = objective.layout, objective.likelihood
    natural = layout.natural(maximum.point.working)
    k = layout.levels - 1
    columns = natural[k : k + layout.columns]
    jacobian, covariance = layout.jacobian(maximum.point.working), _covariance(-maximum.hessian)
    if objective.prior is None:
        inside = np.sqrt(np.diag(jacobian @ covariance @ jacobian.T))
        _refuse_separation(objective, maximum, natural=natural, errors=inside, given=given)
    undo = np.eye(layout.natural_size)
    undo[:k, k : k + layout.columns] = centres
    errors = np.sqrt(np.diag(undo @ jacobian @ covariance @ jacobian.T @ undo.T))
    log_prior = 0.0 if objective.prior is None else float(objective.prior.log_density(maximum.point.working))
    return PointFit(
        thresholds=natural[:k] + centres @ columns,
        hours_slope=float(columns[0]) if given.has_hours else None,
        coefficients=columns[1:] if given.has_hours else columns,
        unit_sd=float(abs(natural[-1])) if layout.has_units else None,
        log_likelihood=maximum.point.value - log_prior,
        standard_errors=errors,
        link=likelihood.link.name,
        n_nodes=n_nodes,
        converged=maximum.converged,
        iterations=maximum.iterations,
        unit_labels=labels,
        unit_effects=likelihood.modes * natural[-1] if layout.has_units else np.empty(0),
        centres=centres,
        objective=objective,
        maximum=maximum,
        order=order,
    )


def _covariance(information: Floats) -> Floats:
    """Inverse information; directions without information get a very large variance, never none."""
    eigenvalues, vectors = np.linalg.eigh(information)
    held = np.maximum(eigenvalues, 1e-14 * max(1.0, float(eigenvalues[-1])))
    return np.asarray((vectors / held) @ vectors.T)


def _refuse_separation(
    objective: Objective, maximum: Maximum, *, natural: Floats, errors: Floats, given: RatingInput
) -> None:
    """Raise FitError where the maximum is at infinity; the message names the column that separates the ratings.

    Only where large estimates or errors give reason to suspect it, and then the likelihood decides.
    """
    layout = objective.layout
    span = np.append(np.ptp(objective.likelihood.ratings.design, axis=0), np.ones(int(layout.has_units)))
    columns = slice(layout.levels - 1, None)
    limits = np.array([_SUSPECT_PREDICTOR, _SUSPECT_ERROR]) * objective.likelihood.link.scale
    if not np.any((np.abs(natural[columns]) * span > limits[0]) | (errors[columns] * span > limits[1])):
        return
    direction = _direction_without_fall(objective, maximum)
    if direction is None:
        return
    largest = int(np.argmax(np.abs(direction[columns]) * span))
    what = given.column_name(largest) if largest < layout.columns else "the unit effect"
    raise FitError(
        f"{what} tells the ratings apart perfectly, so maximum likelihood has no finite answer; give a prior"
    )


def _direction_without_fall(objective: Objective, maximum: Maximum) -> Floats | None:
    """A direction of working parameters in which the likelihood does not fall from where the search stopped, or None.

    From a maximum the log likelihood falls to both sides of every principal axis of the information, by about one
    half at one standard error. Where the ratings are separated it keeps rising towards its supremum, ever more
    slowly, and the search stops on that slope (Albert & Anderson 1984, Biometrika 71, 1-10), or not at all.
    """
    layout, point = objective.layout, maximum.point
    jacobian = layout.jacobian(point.working)
    span = np.ones(layout.natural_size)
    span[layout.coefficients] = np.ptp(objective.likelihood.ratings.design, axis=0)
    eigenvalues, axes = np.linalg.eigh(-maximum.hessian)
    if not maximum.converged:
        return np.asarray(axes[:, 0])
    for eigenvalue, axis in zip(eigenvalues, axes.T, strict=True):
        longest = _LONGEST_STEP * objective.likelihood.link.scale / np.max(np.abs(jacobian @ axis) * span)
        length = min(longest, 1.0 / np.sqrt(max(eigenvalue, 1e-300)))
        predicted = 0.5 * max(eigenvalue, 0.0) * length**2
        for sign in (1.0, -1.0):
            step: Floats = sign * length * axis
            fall = point.value - objective.evaluate(point.working + step).value
            if not fall > _LEAST_FALL * predicted:
                return step
    return None
