"""The threshold of each unit for the limit, under each posterior draw: all that its risk depends on but the hours.

P(rating >= limit at h) = 1 - F(threshold - slope * log h), where the unit's threshold is the model's less the unit's
linear predictor at log hours of zero. A unit without rated drains has the effect of a unit drawn from the fleet, and
a level that is unknown or not in the fit has that of a level drawn from its term: an unknown makes the range wider,
and so the interval shorter.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy.special import ndtri

from draincurve.pipeline.describing import Term
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.schemas.array_types import Floats
from draincurve.schemas.settings import Priors

RATER_COLUMN = "rated_by"


def threshold_draws(
    fit: ChannelFit,
    state: pl.DataFrame,
    *,
    limit: int,
    priors: Priors,
    rng: np.random.Generator,
    effects: Floats | None = None,
) -> Floats:
    """Draws of the units' thresholds, (rows of state, S).

    state : one row a unit with unit_key and the columns of the fit's terms (a missing column is unknown for all);
    limit : rating at which oil is past fit; effects : (rows, S), the units' effects in sd, drawn here by default
    """
    if effects is None:
        effects = unit_effect_draws(fit, state["unit_key"].to_list(), rng=rng)
    return typical_threshold_draws(fit, state, limit=limit, priors=priors, rng=rng) - fit.unit_sd * effects


def typical_threshold_draws(
    fit: ChannelFit, state: pl.DataFrame, *, limit: int, priors: Priors, rng: np.random.Generator
) -> Floats:
    """The same for a unit whose own effect is zero, (rows, S)."""
    adjusted = np.tile(fit.threshold_of(limit), (state.height, 1))
    group = 0
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        sd = None
        if term.kind == "pooled":
            sd = fit.group_sds[:, group] * np.sqrt(1.0 + 1.0 / len(term.levels))
            group += 1
        elif term.kind == "contrast":
            sd = np.full(fit.draws, priors.coefficient_sd * fit.fit.objective.likelihood.link.scale)
        if term.column not in state.columns:
            state = state.with_columns(pl.lit(None, dtype=pl.String).alias(term.column))
        coefficients = fit.coefficients[:, span]
        if term.kind == "age" and coefficients.mean() < 0.0:
            # Parts that still run in do so no longer than the oldest seen: to go on would lengthen intervals.
            state = state.with_columns(pl.col(term.column).cast(pl.Float64).clip(upper_bound=term.largest))
        adjusted -= term.encode(state) @ coefficients.T
        if sd is not None:
            adjusted -= _unknown_levels(term, state, sd=sd, rng=rng)
    return adjusted


def unit_effect_draws(fit: ChannelFit, unit_keys: list[str], *, rng: np.random.Generator) -> Floats:
    """Effects of units in sd, (units, S): drawn from the fit where the unit has rated drains, else from the fleet."""
    index = fit.unit_index(unit_keys)
    effects = np.empty((len(unit_keys), fit.draws))
    effects[index >= 0] = fit.effects_of(index[index >= 0]).T
    for row in np.flatnonzero(index < 0):
        effects[row] = stratified_normals(fit.draws, rng)
    return effects


def stratified_normals(count: int, rng: np.random.Generator) -> Floats:
    """Standard normal numbers, one from each of `count` equal quantile ranges, shuffled: means have little noise."""
    return np.asarray(ndtri((rng.permutation(count) + rng.uniform(size=count)) / count))


def _unknown_levels(term: Term, state: pl.DataFrame, *, sd: Floats, rng: np.random.Generator) -> Floats:
    """Effects of unknown levels, (rows, S); zero for a known level, and where no rater is named, the average."""
    effects = np.zeros((state.height, sd.size))
    unknown = term.level_indices(state) == len(term.levels)
    if term.column == RATER_COLUMN:
        unknown &= state[RATER_COLUMN].is_not_null().to_numpy()
    for row in np.flatnonzero(unknown):
        effects[row] = sd * stratified_normals(sd.size, rng)
    return effects
