"""Raters who drift: a score test of a linear trend in time for each rater, beside a trend of the whole fleet.

The fitted model is extended by a trend of the fleet and one of each rater, with coefficients of zero. The test
statistic is the efficient score of a rater's trend at the mode (adjusted for all other parameters), divided by its
standard error; it is standard normal where the rater does not drift (Rao 1948, Proc. Camb. Phil. Soc. 44, 50-57;
nuisance parameters as in Cox & Hinkley 1974, section 9.3). No refit is needed. P-values are adjusted over raters by
Holm's method, stepwise: once a rater is named, that rater's trend joins the nuisance parameters of the rest, so that
one who drifts does not make the others look as if they drifted the other way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy.special import ndtr

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.double_ratings import RATER_COLUMN
from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.rating_levels import levels_per_predictor
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.holm import holm
from draincurve.schemas.array_types import Floats

FEWEST_DRAINS = 10
FEWEST_DAYS = 60
_LEAST_OWN_INFORMATION = 0.02  # share of a trend's information; below it, the trend is confounded with the fleet's

DRIFT_LEVEL = 0.025
"""Largest adjusted p-value at which a rater is named: over two channels, a log in 20 names somebody wrongly."""


@dataclass(frozen=True, slots=True)
class RaterDrift:
    """The trend of one rater [levels a year], above 0 where ratings become dirtier, and its test.

    score : standard normal without a trend; p_adjusted : over raters.
    """

    rater: str
    levels_per_year: float
    score: float
    p_value: float
    p_adjusted: float

    @property
    def named(self) -> bool:
        """Whether the rater is said to drift."""
        return self.p_adjusted <= DRIFT_LEVEL


def rater_drifts(fit: ChannelFit) -> tuple[RaterDrift, ...]:
    """Raters with enough drains and days whose trend can be separated from the fleet's, in order of name.

    None where the fit has no term for raters.
    """
    if all(term.column != RATER_COLUMN for term in fit.drains.terms):
        return ()
    rows = fit.drains.rows[fit.fit.order]
    raters = _testable(rows)
    if not raters:
        return ()
    years = rows["drained_on"].to_physical().to_numpy() / 365.25
    trends = [years - years.mean()]
    for rater in raters:
        of_rater = (rows[RATER_COLUMN] == rater).fill_null(False).to_numpy()
        trends.append(np.where(of_rater, years - years[of_rater].mean(), 0.0))
    gradient, information = _score_and_information(fit, np.column_stack(trends))
    first = information.shape[0] - len(raters)
    return _stepwise(
        gradient,
        information,
        rater_of_index={first + number: rater for number, rater in enumerate(raters)},
        levels_per_predictor=levels_per_predictor(fit),
    )


def drifting_raters(drifts: Sequence[RaterDrift]) -> tuple[str, ...]:
    """The raters among those tested who are said to drift."""
    return tuple(drift.rater for drift in drifts if drift.named)


def _stepwise(
    gradient: Floats, information: Floats, *, rater_of_index: dict[int, str], levels_per_predictor: float
) -> tuple[RaterDrift, ...]:
    """Tests of all raters whose trend can be separated; rater_of_index : parameter index of each rater's trend."""
    nuisance = [index for index in range(gradient.size) if index not in rater_of_index]
    untested = dict(rater_of_index)
    drifts: dict[str, RaterDrift] = {}
    least_p = 0.0
    while untested:
        estimates = {
            index: estimate
            for index in untested
            if (estimate := _trend(gradient, information, nuisance=nuisance, index=index)) is not None
        }
        if not estimates:
            break
        p_values = [2.0 * float(ndtr(-abs(score))) for _, score in estimates.values()]
        adjusted = np.maximum(holm(p_values), least_p)
        step = {
            index: RaterDrift(untested[index], trend * levels_per_predictor, score, p, float(q))
            for (index, (trend, score)), p, q in zip(estimates.items(), p_values, adjusted, strict=True)
        }
        clearest = min(step, key=lambda index: step[index].p_value)
        if not step[clearest].named:
            drifts |= {drift.rater: drift for drift in step.values()}
            break
        least_p = step[clearest].p_adjusted
        drifts[untested.pop(clearest)] = step[clearest]
        nuisance.append(clearest)
    return tuple(drifts[rater] for rater in sorted(drifts))


def _trend(gradient: Floats, information: Floats, *, nuisance: list[int], index: int) -> tuple[float, float] | None:
    """(one-step estimate of a trend, its standardised efficient score); None where it is confounded."""
    weights = np.linalg.solve(information[np.ix_(nuisance, nuisance)], information[nuisance, index])
    information_left = float(information[index, index] - weights @ information[nuisance, index])
    if information_left <= _LEAST_OWN_INFORMATION * float(information[index, index]):
        return None
    score = float(gradient[index] - weights @ gradient[nuisance])
    return score / information_left, score / float(np.sqrt(information_left))


def _testable(rows: pl.DataFrame) -> list[str]:
    """Raters with enough drains and days."""
    counts = (
        rows.drop_nulls(RATER_COLUMN)
        .group_by(RATER_COLUMN)
        .agg(pl.len().alias("drains"), (pl.col("drained_on").max() - pl.col("drained_on").min()).alias("span"))
        .filter((pl.col("drains") >= FEWEST_DRAINS) & (pl.col("span") >= pl.duration(days=FEWEST_DAYS)))
    )
    return counts[RATER_COLUMN].sort().to_list()


def _score_and_information(fit: ChannelFit, trends: Floats) -> tuple[Floats, Floats]:
    """Gradient and information of the log posterior at its mode, extended by trends, (n, t), without a prior."""
    objective, working = fit.fit.objective, fit.fit.maximum.point.working
    assert objective.prior is not None, "a channel is always fitted with a prior"
    layout, data = objective.layout, objective.likelihood.ratings
    extended = replace(data, columns=np.ascontiguousarray(np.hstack((data.design, trends))))
    likelihood = Likelihood(extended, objective.likelihood.link, nodes=objective.likelihood.rule.nodes.size)
    first_new = layout.levels - 1 + layout.columns
    natural = np.insert(layout.natural(working), first_new, np.zeros(trends.shape[1]))
    with one_thread():
        _, by_natural = likelihood.value_and_gradient(natural)
        hessian = likelihood.hessian(natural)
    new = np.arange(first_new, first_new + trends.shape[1])
    old = np.delete(np.arange(natural.size), new)
    jacobian = layout.jacobian(working)
    slope, curvature = objective.prior.gradient_and_curvature(working)
    gradient = np.concatenate((jacobian.T @ by_natural[old] + slope, by_natural[new]))
    across = jacobian.T @ hessian[np.ix_(old, new)]
    inner = (
        jacobian.T @ hessian[np.ix_(old, old)] @ jacobian
        + layout.second_order_term(working, by_natural[old])
        + np.diag(curvature)
    )
    return gradient, -np.block([[inner, across], [across.T, hessian[np.ix_(new, new)]]])
