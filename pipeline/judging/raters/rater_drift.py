"""Raters whose eye changes: a score test of a trend in time for each rater, beside a trend of the whole fleet.

The fitted model is widened by a trend of the fleet and one of each rater, all zero; the score of a rater's trend at
the mode, freed of all that the other parameters could explain, over its standard error is standard normal where the
rater does not drift (Rao 1948, Proc. Camb. Phil. Soc. 44, 50-57; efficient score with nuisance parameters as in Cox &
Hinkley 1974, section 9.3). No refit is needed. P-values are adjusted over raters by Holm's method, stepwise: once a
rater is named, that rater's trend joins what the others are freed of, so that one who drifts does not make the rest
look as if they drifted the other way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy.special import ndtr

from draincurve.pipeline.fitting import ChannelFit, Likelihood, one_thread
from draincurve.pipeline.judging.holm import holm
from draincurve.pipeline.judging.raters.rater_shift import RATER_COLUMN, levels_per_step
from draincurve.schemas.array_types import Floats

FEWEST_DRAINS = 10
FEWEST_DAYS = 60
_OWN_SHARE = 0.02  # of a trend's information that must be its own, or it cannot be told from the fleet's

DRIFT_LEVEL = 0.025
"""Adjusted p-value under which a rater is named: over both channels, one log in 20 names somebody wrongly."""


@dataclass(frozen=True, slots=True)
class RaterDrift:
    """The trend of one rater: levels a year (above 0: ever dirtier), score in sds, p-value, adjusted over raters."""

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
    """Raters with drains and days enough whose trend can be told from the fleet's, in order of name."""
    rows = fit.drains.rows[fit.fit.order]
    raters = _testable(rows)
    if not raters:
        return ()
    years = rows["drained_on"].to_physical().to_numpy() / 365.25
    trends = [years - years.mean()]
    for rater in raters:
        own = (rows[RATER_COLUMN] == rater).fill_null(False).to_numpy()
        trends.append(np.where(own, years - years[own].mean(), 0.0))
    gradient, information = _score_and_information(fit, np.column_stack(trends))
    first = information.shape[0] - len(raters)
    return _stepwise(
        gradient,
        information,
        rater_at={first + at: rater for at, rater in enumerate(raters)},
        levels_a_step=levels_per_step(fit),
    )


def _stepwise(
    gradient: Floats, information: Floats, *, rater_at: dict[int, str], levels_a_step: float
) -> tuple[RaterDrift, ...]:
    """Findings on all raters whose trend can be told apart; rater_at : place of each rater's trend."""
    known = [at for at in range(gradient.size) if at not in rater_at]
    left = dict(rater_at)
    found: dict[str, RaterDrift] = {}
    least = 0.0
    while left:
        scored = {
            at: score for at in left if (score := _score(gradient, information, known=known, at=at)) is not None
        }
        if not scored:
            break
        p_values = [2.0 * float(ndtr(-abs(score))) for _, score in scored.values()]
        adjusted = np.maximum(holm(p_values), least)
        drifts = {
            at: RaterDrift(left[at], trend * levels_a_step, score, p, float(q))
            for (at, (trend, score)), p, q in zip(scored.items(), p_values, adjusted, strict=True)
        }
        most = min(drifts, key=lambda at: drifts[at].p_value)
        if not drifts[most].named:
            found |= {item.rater: item for item in drifts.values()}
            break
        least = drifts[most].p_adjusted
        found[left.pop(most)] = drifts[most]
        known.append(most)
    return tuple(found[rater] for rater in sorted(found))


def _score(gradient: Floats, information: Floats, *, known: list[int], at: int) -> tuple[float, float] | None:
    """(one-step estimate of a trend, its score in sds) freed of `known`; None where nothing of it is its own."""
    gain = np.linalg.solve(information[np.ix_(known, known)], information[known, at])
    own = float(information[at, at] - gain @ information[known, at])
    if own <= _OWN_SHARE * float(information[at, at]):
        return None
    score = float(gradient[at] - gain @ gradient[known])
    return score / own, score / float(np.sqrt(own))


def _testable(rows: pl.DataFrame) -> list[str]:
    """Raters with drains and days enough."""
    counts = (
        rows.drop_nulls(RATER_COLUMN)
        .group_by(RATER_COLUMN)
        .agg(pl.len().alias("drains"), (pl.col("drained_on").max() - pl.col("drained_on").min()).alias("span"))
        .filter((pl.col("drains") >= FEWEST_DRAINS) & (pl.col("span") >= pl.duration(days=FEWEST_DAYS)))
    )
    return counts[RATER_COLUMN].sort().to_list()


def _score_and_information(fit: ChannelFit, trends: Floats) -> tuple[Floats, Floats]:
    """Gradient and information of the log posterior at its mode, the trends (n, t) last; the trends have no prior."""
    objective, place = fit.fit.objective, fit.fit.maximum.point.working
    assert objective.prior is not None, "a channel is always fitted with a prior"
    layout, data = objective.layout, objective.likelihood.ratings
    wide = replace(data, columns=np.ascontiguousarray(np.hstack((data.design, trends))))
    likelihood = Likelihood(wide, objective.likelihood.link, nodes=objective.likelihood.rule.nodes.size)
    ends = layout.levels - 1 + layout.columns
    natural = np.insert(layout.natural(place), ends, np.zeros(trends.shape[1]))
    with one_thread():
        _, by_natural = likelihood.value_and_gradient(natural)
        hessian = likelihood.hessian(natural)
    new = np.arange(ends, ends + trends.shape[1])
    old = np.delete(np.arange(natural.size), new)
    jacobian = layout.jacobian(place)
    slope, curvature = objective.prior.gradient_and_curvature(place)
    gradient = np.concatenate((jacobian.T @ by_natural[old] + slope, by_natural[new]))
    across = jacobian.T @ hessian[np.ix_(old, new)]
    inner = (
        jacobian.T @ hessian[np.ix_(old, old)] @ jacobian
        + layout.second_order_term(place, by_natural[old])
        + np.diag(curvature)
    )
    return gradient, -np.block([[inner, across], [across.T, hessian[np.ix_(new, new)]]])
