"""What two ratings of one oil show: how raters differ, and nothing more about the oil.

Both ratings of a drain share its oil, so a second one is no further observation of it. But both are off by the same
amount where the oil was dirtier than expected, so the difference of their scores shows how the two raters differ,
whatever the oil was. These differences give estimating equations for the raters' effects (generalised estimating
equations: Liang & Zeger 1986, Biometrika 73, 13-22; from memory), each pair with the weight that it has if ratings
were independent. Their information is adjusted by how far the pairs scatter: raters who see the same oil agree better
than independent ones, but the log must show it, since FEWEST independent pairs are added to its own.

The first rating of a pair is in the fit already, so the errors of the fit and of the pairs go together. Where a rater
has no other drains, their covariance is half of the pairs' variance, which is assumed throughout: elsewhere it costs
a little width. The posterior's draws are moved to the best mean of both as draws of a normal distribution are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from draincurve.pipeline.describing import RatedDrains, Term
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.links import Link
from draincurve.schemas.array_types import Floats, Integers

RATER_COLUMN = "rated_by"
FEWEST = 4.0
"""Pairs of independent ratings that are added to those of the log when their scatter is estimated."""

STEPS = 8
LEAST_PROBABILITY = 1e-9
LEAST_INFORMATION = 1e-6
SMALLEST_VARIANCE = 1e-12
LARGEST = 6.0
"""Largest effect of a rater on the scale of the link; pairs that always differ would make it infinite."""


class RaterEvidence(NamedTuple):
    """Evidence of pairs of ratings on the rater term's coefficients: estimate (p,) and information (p, p)."""

    estimate: Floats
    information: Floats


def with_double_ratings(fit: ChannelFit) -> ChannelFit:
    """The fit with draws updated by what drains with two ratings say of the raters; itself without such drains.

    fit : without draws of unit effects, which follow from the parameters' draws
    """
    evidence = rater_evidence(fit)
    if evidence is None:
        return fit
    layout = fit.fit.objective.layout
    columns = _columns_of(fit.drains)
    assert columns is not None, "there is no evidence without a rater term"
    # The design's columns follow the log hours, and pooled coefficients are in sds of their group.
    rater_columns = layout.coefficients.start + 1 + np.arange(columns.start, columns.stop)
    group = next(g for g, rows in enumerate(layout.pooled_coefficients) if rater_columns[0] in rows)
    log_sd = layout.group_log_sds.start + group
    working = fit.posterior.draws.copy()
    working[:, rater_columns] *= np.exp(working[:, [log_sd]])
    updated = _updated(working, rater_columns, evidence)
    updated[:, rater_columns] /= np.exp(updated[:, [log_sd]])
    thresholds, coefficients, unit_sd = fit.fit.natural_draws(updated)
    return replace(
        fit,
        posterior=replace(fit.posterior, draws=updated, log_density=None, known_at=None),  # of the draws before
        thresholds=thresholds,
        hours_slope=coefficients[:, 0],
        coefficients=coefficients[:, 1:],
        unit_sd=unit_sd,
        group_sds=np.exp(updated[:, layout.group_log_sds]),
    )


def rater_evidence(fit: ChannelFit) -> RaterEvidence | None:
    """Evidence of the drains with two ratings on the raters; None without such drains or a rater term."""
    drains, second, columns = fit.drains, fit.drains.second, _columns_of(fit.drains)
    if second is None or columns is None:
        return None
    term = next(term for term in drains.terms if term.column == RATER_COLUMN)
    first_raters = drains.rows[RATER_COLUMN][second.row].cast(str).to_numpy()
    both = np.isin(second.rater, term.levels) & np.isin(first_raters.astype(object), term.levels)
    if not both.any():
        return None
    row = second.row[both]
    first, other = (_rows_of(term, names[both]) for names in (first_raters, second.rater))
    low, high = _merged(drains, second.low[both], second.high[both])
    coefficients = fit.fit.coefficients
    shared = _predictor(fit, row) - first @ coefficients[columns]
    link, thresholds = fit.fit.objective.likelihood.link, fit.fit.thresholds
    design, beta = other - first, coefficients[columns].copy()
    for _ in range(STEPS):
        d1, i1 = scores(link, thresholds, shared + first @ beta, low=drains.low[row], high=drains.high[row])
        d2, i2 = scores(link, thresholds, shared + other @ beta, low=low, high=high)
        weight = i1 * i2 / (i1 + i2)
        apart = d2 / i2 - d1 / i1
        information = design.T @ (weight[:, None] * design)
        step = np.linalg.pinv(information, hermitian=True) @ (design.T @ (weight * apart))
        beta = np.clip(beta + step, -LARGEST, LARGEST)
    scatter = (FEWEST + float(weight @ np.square(apart))) / (FEWEST + row.size)
    return RaterEvidence(beta, information / scatter)


def scores(
    link: Link, thresholds: Floats, predictor: Floats, *, low: Integers, high: Integers
) -> tuple[Floats, Floats]:
    """Derivative of each rating's log probability by its linear predictor, and its information, (n,) each."""
    margins = np.concatenate(([-np.inf], thresholds, [np.inf]))[:, None] - predictor
    over, density = link.survival(margins), link.pdf(margins)
    density[[0, -1]] = 0.0
    each, slope = np.maximum(-np.diff(over, axis=0), LEAST_PROBABILITY), -np.diff(density, axis=0)
    information = np.maximum((np.square(slope) / each).sum(axis=0), LEAST_INFORMATION)
    drain = np.arange(predictor.size)
    probability = np.maximum(over[low - 1, drain] - over[high, drain], LEAST_PROBABILITY)
    return (density[low - 1, drain] - density[high, drain]) / probability, information


def _columns_of(drains: RatedDrains) -> slice | None:
    """Columns of the rater term in the design."""
    pairs = zip(drains.terms, drains.spans(), strict=True)
    return next((span for term, span in pairs if term.column == RATER_COLUMN), None)


def _rows_of(term: Term, names: np.ndarray) -> Floats:
    """Design rows of some raters."""
    assert term.contrasts is not None, "raters are a categorical term"
    index_of = {name: index for index, name in enumerate(term.levels)}
    return np.asarray(term.contrasts[[index_of[name] for name in names]])


def _merged(drains: RatedDrains, low: Integers, high: Integers) -> tuple[Integers, Integers]:
    """Levels as the fit has them, where some are merged."""
    groups = drains.groups
    return (low, high) if groups is None else (groups.lowest[low - 1], groups.highest[high - 1])


def _predictor(fit: ChannelFit, rows: Integers) -> Floats:
    """Linear predictors of some drains at the mode, with their units' effects."""
    drains = fit.drains
    units = fit.unit_index(drains.units[rows].tolist())
    slope = fit.fit.hours_slope or 0.0
    fixed = slope * drains.log_hours[rows] + drains.design_of(rows) @ fit.fit.coefficients
    return np.asarray(fixed + fit.fit.unit_effects[units])


def _updated(draws: Floats, rater_columns: Integers, evidence: RaterEvidence) -> Floats:
    """Draws (S, P), nearly normal, updated with the evidence on the rater term's coefficients.

    Along each direction of the raters' effects in which the draws have variance 1 and the evidence variance v, the
    errors of the two have covariance v / 2. The best mean of both then has the weight 1 - v / 2 on the evidence, and
    variance v - v^2 / 4; from v = 2 on the evidence adds nothing.
    """
    mean = draws.mean(axis=0)
    deviations = draws - mean
    variance, eigenvectors = np.linalg.eigh(np.atleast_2d(np.cov(deviations[:, rater_columns], rowvar=False)))
    root = eigenvectors * np.sqrt(np.maximum(variance, SMALLEST_VARIANCE))
    precision, directions = np.linalg.eigh(root.T @ evidence.information @ root)
    whitening = np.linalg.solve(root, np.eye(rater_columns.size)).T @ directions
    error = 1.0 / np.maximum(precision, 0.5)
    whitened = deviations[:, rater_columns] @ whitening
    estimate = (evidence.estimate - mean[rater_columns]) @ whitening
    new = (1.0 - 0.5 * error) * estimate + np.sqrt(error - 0.25 * error**2) * whitened
    return np.asarray(draws + (new - whitened) @ (whitened.T @ deviations / len(draws)))
