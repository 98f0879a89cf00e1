"""Where the limit lies for a unit under each draw: the threshold less all that the unit, spring, oil and rider add.

P(rating >= limit at h) = 1 - F(cut - slope * log h). A unit without rated drains gets the fleet's spread; a level
never seen, or not known, gets the spread of levels: unknown makes the answer wider and so the interval shorter.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from scipy.special import ndtri

from draincurve.pipeline.describing.design_terms import Term
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.schemas.array_types import Floats
from draincurve.schemas.settings import Priors

AVERAGE_RATER = "rated_by"
"""Answers are for the average rater; an unknown one is no reason for width."""


def cut_draws(fit: ChannelFit, state: pl.DataFrame, limit: int, priors: Priors, rng: np.random.Generator) -> Floats:
    """Thresholds of the limit, (rows of state, S).

    state : one row a unit with unit_key and the columns of the fit's terms (a missing column is unknown for all);
    limit : rating at which oil is past fit.
    """
    effects = unit_effects(fit, state["unit_key"].to_list(), rng)
    return cuts_of_effects(fit, state, limit, priors, rng, effects)


def cuts_of_effects(
    fit: ChannelFit, state: pl.DataFrame, limit: int, priors: Priors, rng: np.random.Generator, effects: Floats
) -> Floats:
    """The same for units whose effects are drawn already, (rows, S) in sd."""
    return typical_cuts(fit, state, limit, priors, rng) - fit.unit_sd * effects


def typical_cuts(
    fit: ChannelFit, state: pl.DataFrame, limit: int, priors: Priors, rng: np.random.Generator
) -> Floats:
    """The same for a unit whose own effect is zero, (rows, S)."""
    cuts = np.tile(fit.thresholds[:, limit - 2], (state.height, 1))
    group = 0
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        spread = None
        if term.kind == "pooled":
            spread = fit.group_sds[:, group] * np.sqrt(1.0 + 1.0 / len(term.levels))
            group += 1
        elif term.kind == "contrast":
            spread = np.full(fit.draws, priors.coefficient_sd * fit.fit.objective.likelihood.link.scale)
        if term.column not in state.columns:
            state = state.with_columns(pl.lit(None, dtype=pl.String).alias(term.column))
        cuts -= term.encode(state) @ fit.coefficients[:, span].T
        if spread is not None and term.column != AVERAGE_RATER:
            cuts -= _unseen(term, state, spread, rng)
    return cuts


def unit_effects(fit: ChannelFit, unit_keys: list[str], rng: np.random.Generator) -> Floats:
    """Effects of units in sd, (units, S): drawn from the fit where the unit has rated drains, else from the fleet."""
    places = fit.places(unit_keys)
    effects = np.empty((len(unit_keys), fit.draws))
    effects[places >= 0] = fit.effects_of(places[places >= 0]).T
    for row in np.flatnonzero(places < 0):
        effects[row] = standard_normals(fit.draws, rng)
    return effects


def standard_normals(count: int, rng: np.random.Generator) -> Floats:
    """Standard normal numbers that fill the quantiles evenly, in random order: little noise in their means."""
    return np.asarray(ndtri((rng.permutation(count) + rng.uniform(size=count)) / count))


def _unseen(term: Term, state: pl.DataFrame, spread: Floats, rng: np.random.Generator) -> Floats:
    """What an unseen or unknown level may add, (rows, S); zero where the level is known."""
    added = np.zeros((state.height, spread.size))
    for row in np.flatnonzero(term.level_index(state) == len(term.levels)):
        added[row] = spread * standard_normals(spread.size, rng)
    return added
