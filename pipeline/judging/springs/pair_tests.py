"""Tests of one spring against another: likelihood ratio, score, and a permutation test over units.

The likelihood-ratio test compares the fit with the two springs merged to the fit with them apart. Both keep the
priors of all other parameters and estimate the standard deviation between units. The tested contrast has no prior in
the latter: a prior would pull the springs together and make the test conservative. The prior of the parts' wear is
wider in both: one that shrinks the wear would leave the rest of it to the newer spring. The ratio is referred to
chi-squared with one degree of freedom (Wilks 1938, Ann. Math. Stat. 9, 60-62).

In large logs the score test replaces it, at the merged fit that one Newton step gives: it agrees to first order and
needs one pass over the drains.

The merged fit also gives each unit's efficient score, and the information on the pair, from which the number of
further drains is computed. The permutation test exchanges the two springs' names throughout a unit's history or not
at all, with probability one half each, because units are what a shop assigns springs to. Exchanging them reverses the
sign of the unit's efficient score, so one merged fit is enough for all permutations (Hemerik, Goeman & Finos 2020, J.
R. Stat. Soc. B 82, 841-864). It is valid whether or not units ran both springs, and where drains of one unit are more
alike than the model assumes. Where one unit makes the whole difference, the test depends on the others, and small
p-values are accidental.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtrc

from draincurve.pipeline.fitting import (
    Likelihood,
    Maximum,
    Objective,
    ParameterLayout,
    Point,
    PointFit,
    Prior,
    maximise,
)
from draincurve.pipeline.fitting.quadrature import value_and_gradient
from draincurve.schemas.array_types import Floats

NO_PRIOR_SD = 1e3
"""Prior sd of the tested direction on the scale of the link, so wide that it is no prior."""

LOOSENING = 5.0
"""Factor on the prior sd of the loosened columns."""

PERMUTATIONS = 2000
FEWEST_UNITS = 6
"""With fewer units no permutation p-value can be below 5 %: the smallest of 5 units is 6.3 %."""

_MODE_TOLERANCE = 1e-9  # of the log density, for a ratio with six digits
_ENUMERATED_UNITS = 11
_CHUNK_NUMBERS = 4_000_000
_LOG_TWO_PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True)
class MergedTest:
    """The test of one pair.

    statistic : twice the log density gained by separate coefficients; unit_scores : (U,), each unit's part of
    the efficient score for the difference of the two coefficients; information : on that difference, with all else
    estimated.
    """

    statistic: float
    p_value: float
    unit_scores: Floats
    information: float


def merged_test(
    fit: PointFit, columns: slice, *, contrast: Floats, loosened: slice | None = None, by_score: bool = False
) -> MergedTest:
    """Test that a contrast of spring coefficients is zero.

    fit : a fit with a prior; columns : the springs' columns of its design; contrast : (width,), the difference of
    the two springs' rows of the coding; loosened : columns whose prior is made wider; by_score : whether the score
    test serves, which needs no refit.
    """
    objective = fit.objective
    layout = objective.layout
    first = columns.start + int(fit.hours_slope is not None)
    rotation = _rotation(contrast)
    length = float(np.linalg.norm(contrast))
    tested = first + columns.stop - columns.start - 1
    index = layout.levels - 1 + tested
    sd = _prior(objective).sd.copy()
    sd[index] = NO_PRIOR_SD
    if loosened is not None:
        before = layout.levels - 1 + int(fit.hours_slope is not None)
        sd[before + loosened.start : before + loosened.stop] *= LOOSENING
    apart = _rotated(objective, first, rotation=rotation, tested=tested, sd=sd)
    start = fit.maximum.point.working.copy()
    within = slice(layout.levels - 1 + first, index + 1)
    start[within] = rotation.T @ start[within]
    if by_score:
        curvature = -_rotated_matrix(fit.maximum.hessian, within, rotation=rotation)
        null_start = _null_start(start, curvature, index=index)
        scores, information = _efficient_scores(apart, apart.evaluate(np.insert(null_start, index, 0.0)), index=index)
        statistic = float(np.sum(scores)) ** 2 / information
    else:
        alternative = _maximised(apart, start)
        null_start = _null_start(alternative.point.working, -alternative.hessian, index=index)
        null = _maximised(_merged(apart, tested), null_start)
        at_null = apart.evaluate(np.insert(null.point.working, index, 0.0))
        constant = np.log(NO_PRIOR_SD) + 0.5 * _LOG_TWO_PI  # undoes the tested direction's prior
        statistic = max(0.0, 2.0 * (alternative.point.value + constant - null.point.value))
        scores, information = _efficient_scores(apart, at_null, index=index)
    return MergedTest(statistic, float(chdtrc(1, statistic)), scores / length, information / length**2)


def permutation_p_value(unit_scores: Floats, rng: np.random.Generator) -> float:
    """Two-sided p-value of the sum of the units' scores, (U,), under exchange of names in whole units.

    All permutations if there are at most 2,048, else 2,000 random ones and the log's own.
    """
    observed = abs(float(np.sum(unit_scores)))
    tolerance = 1e-9 * float(np.sum(np.abs(unit_scores)))
    units = unit_scores.size
    if units <= _ENUMERATED_UNITS:
        codes = np.arange(2**units)[:, None] >> np.arange(units) & 1
        return float(np.mean(np.abs((1.0 - 2.0 * codes) @ unit_scores) >= observed - tolerance))
    as_extreme = 1
    chunk = max(1, _CHUNK_NUMBERS // units)
    for begin in range(0, PERMUTATIONS, chunk):
        count = min(chunk, PERMUTATIONS - begin)
        signs = rng.integers(0, 2, size=(count, units), dtype=np.int8)
        sums = (1.0 - 2.0 * signs) @ unit_scores
        as_extreme += int(np.sum(np.abs(sums) >= observed - tolerance))
    return as_extreme / (PERMUTATIONS + 1)


def information_a_drain(fit: PointFit) -> float:
    """Information of one drain on a shift of its linear predictor: the mean squared score at the fit."""
    return float(np.mean(_scores(fit.objective, fit.maximum.point.working) ** 2))


def _scores(objective: Objective, working: Floats) -> Floats:
    """Derivative of the log likelihood by each drain's linear predictor, (n,)."""
    like = objective.likelihood
    by_predictor = np.zeros(like.ratings.low.size)
    natural = objective.layout.natural(working)
    value_and_gradient(like.drains(natural), like.slices, like.modes, like.rule, by_predictor)
    return by_predictor


def _rotation(contrast: Floats) -> Floats:
    """Orthogonal matrix whose last column is along the contrast, so that the prior stays as it is."""
    width = contrast.size
    complete, _ = np.linalg.qr(np.column_stack((contrast, np.eye(width))))
    rotation = np.roll(complete[:, :width], -1, axis=1)
    return np.asarray(rotation * np.append(np.ones(width - 1), np.sign(rotation[:, -1] @ contrast)))


def _rotated(objective: Objective, first: int, *, rotation: Floats, tested: int, sd: Floats) -> Objective:
    """The same model with rotated columns, the last of them the tested direction, and with other prior sds."""
    data = objective.likelihood.ratings
    design = data.design.copy()
    design[:, first : tested + 1] = design[:, first : tested + 1] @ rotation
    likelihood = _likelihood(objective.likelihood, np.ascontiguousarray(design))
    return Objective(likelihood, objective.layout, replace(_prior(objective), sd=sd))


def _merged(apart: Objective, tested: int) -> Objective:
    """The model without the tested column: both springs have one coefficient."""
    layout, prior = apart.layout, _prior(apart)
    index = layout.levels - 1 + tested
    fewer = ParameterLayout(
        layout.levels,
        layout.columns - 1,
        layout.hours_column,
        tuple(tuple(j - int(j > tested) for j in group) for group in layout.pooled),
        layout.has_units,
        layout.log_scale,
    )
    design = np.ascontiguousarray(np.delete(apart.likelihood.ratings.design, tested, axis=1))
    kept = Prior(np.delete(prior.mean, index), np.delete(prior.sd, index), np.delete(prior.half_normal, index))
    likelihood = _likelihood(apart.likelihood, design)
    return Objective(likelihood, fewer, kept)


def _likelihood(like: Likelihood, design: Floats) -> Likelihood:
    """The same ratings with other columns; the units' modes start from their present values."""
    made = Likelihood(replace(like.ratings, columns=design), like.link, nodes=like.rule.nodes.size)
    made.modes[:] = like.modes
    return made


def _rotated_matrix(matrix: Floats, within: slice, *, rotation: Floats) -> Floats:
    """A matrix over the working parameters, transformed to the rotated columns."""
    full = np.eye(matrix.shape[0])
    full[within, within] = rotation
    return np.asarray(full.T @ matrix @ full)


def _null_start(mode: Floats, curvature: Floats, *, index: int) -> Floats:
    """Maximum of a quadratic log density with the tested coefficient, at `index`, fixed at zero."""
    rest = np.delete(np.arange(mode.size), index)
    moved = np.linalg.lstsq(curvature[np.ix_(rest, rest)], curvature[rest, index], rcond=None)[0] * mode[index]
    return np.asarray(mode[rest] + np.clip(moved, -1.0, 1.0))


def _efficient_scores(apart: Objective, at_null: Point, *, index: int) -> tuple[Floats, float]:
    """(each unit's efficient score (U,), information) for the tested coefficient at the merged fit.

    Nuisance parameters: the common level of the thresholds and all other columns. Standard deviations and the
    differences between thresholds are left out: they hardly depend on a difference of two springs.
    """
    layout, like = apart.layout, apart.likelihood
    by_predictor = _scores(apart, at_null.working)
    jacobian = layout.jacobian(at_null.working)
    columns = np.arange(layout.coefficients.start, layout.coefficients.stop)
    by_drain = (by_predictor[:, None] * like.ratings.design) @ jacobian[np.ix_(columns, columns)]
    by_unit = np.add.reduceat(np.column_stack((-by_predictor, by_drain)), like.ratings.starts[:-1], axis=0)
    used = np.append(0, columns)
    information = -apart.hessian(at_null)[np.ix_(used, used)]
    tested = int(np.flatnonzero(used == index)[0])
    nuisance = np.delete(np.arange(used.size), tested)
    weights = np.linalg.lstsq(information[np.ix_(nuisance, nuisance)], information[nuisance, tested], rcond=None)[0]
    left = float(information[tested, tested] - information[tested, nuisance] @ weights)
    return by_unit[:, tested] - by_unit[:, nuisance] @ weights, max(left, 0.0)


def _maximised(objective: Objective, start: Floats) -> Maximum:
    return maximise(objective.evaluate, objective.hessian, start=start, tolerance=_MODE_TOLERANCE)


def _prior(objective: Objective) -> Prior:
    assert objective.prior is not None, "springs are compared with the priors of the fit"
    return objective.prior
