"""Unit effects on two channels drawn together, given each draw of the channels' parameters and of the association."""

from __future__ import annotations

import numpy as np
from numba import prange

from draincurve.pipeline.fitting.joint.association import Association
from draincurve.pipeline.fitting.joint.pair_quadrature import draw_effects, fill_pair_factors
from draincurve.pipeline.fitting.joint.paired_drains import ChannelRatings
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Booleans, Floats, Integers

PROPOSALS = 4
"""Proposals of which one is chosen by the exact density. Means are then within 0.06 sd, and sds within 6 %."""


def joint_unit_effects(
    first: ChannelRatings,
    second: ChannelRatings,
    starts: Integers,
    *,
    link: int,
    association: Association,
    rng: np.random.Generator,
    measured: Floats | None = None,
    among: Booleans | None = None,
) -> Floats:
    """Draws of both effects of each unit in sd, (2, S, U); starts : (U + 1,), first drain of each unit.

    measured : (S, U, 4), what measured values say of the effects (`pair_quadrature.fill_frame`), None for nothing;
    among : which of some draws these are, so that they get the random numbers that they have among all of them
    """
    draws, units = first.unit_sds.size, starts.size - 1
    effects = np.empty((2, draws, units))
    all_draws, chosen = (draws, slice(None)) if among is None else (among.size, among)
    normals = rng.standard_normal((all_draws, units, PROPOSALS, 2))[chosen]
    _fill_effects(
        link,
        first,
        second,
        starts,
        association.correlation,
        np.exp(association.log_odds_ratio),
        np.zeros((draws, units, 4)) if measured is None else np.ascontiguousarray(measured),
        normals,
        rng.uniform(size=(all_draws, units))[chosen],
        effects,
    )
    return effects


@compiled_loop
def _fill_effects(
    link: int,
    first: ChannelRatings,
    second: ChannelRatings,
    starts: Integers,
    correlation: Floats,
    odds_ratio: Floats,
    measured: Floats,
    normals: Floats,
    picks: Floats,
    effects: Floats,
) -> None:
    for draw in prange(correlation.size):
        factors = np.empty((4, first.low.size))
        fill_pair_factors(link, first, second, int(np.int64(draw)), factors)  # prange's own is unsigned, another type
        sds = np.array([first.unit_sds[draw], second.unit_sds[draw]])
        mode, drawn = np.zeros(2), np.empty(2)
        for unit in range(starts.size - 1):
            mode[:] = 0.0
            draw_effects(
                link,
                factors,
                starts[unit],
                starts[unit + 1],
                sds,
                correlation[draw],
                odds_ratio[draw],
                measured[draw, unit],
                mode,
                normals[draw, unit],
                picks[draw, unit],
                drawn,
            )
            effects[0, draw, unit], effects[1, draw, unit] = drawn[0], drawn[1]
