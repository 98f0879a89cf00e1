"""Two channels joined: their own fits, the association given these, and unit effects drawn together.

Draw s of both channels and of the association belongs to one joint draw. The parameters of the channels are drawn
apart; weighting the pairs by the joint likelihood would give the exact posterior, and covers 0.6 points more of true
hours with ranges of 90 % (docs/decisions/14-one-oil-one-risk.md).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.joint.association import Association, sampled_association
from draincurve.pipeline.fitting.joint.joint_effects import joint_unit_effects
from draincurve.pipeline.fitting.joint.paired_drains import PairedDrains, channel_ratings, paired_drains
from draincurve.pipeline.fitting.joint.unchanged_effects import unchanged_draws, unchanged_units
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.fitting.unit_thresholds import stratified_normals, unit_effect_draws
from draincurve.schemas.array_types import Booleans, Floats, Integers
from draincurve.schemas.settings import Priors

ASSOCIATION_DRAINS = 2_500
"""From this many drains the association is known to 0.05, far better than any interval needs."""

_CHUNK_NUMBERS = 4_000_000


@dataclass(frozen=True)
class JointFit:
    """Two channels as one oil.

    channels : their names; association : its draws (S,); unit_keys : (U,), units rated on either channel; effects :
    (2, S, U), in sd of each channel's unit effect, or None in a large fleet, where effects are each channel's own;
    random_state : of the generator from which the effects were drawn.
    """

    channels: tuple[str, str]
    association: Association
    unit_keys: tuple[str, ...]
    effects: Floats | None
    random_state: Mapping[str, Any] = field(default_factory=dict)

    def without_units(self, draws: int | None = None) -> JointFit:
        """The association alone, with the first `draws` of its draws, which come in no order."""
        part = slice(draws)
        association = replace(
            self.association,
            correlation=self.association.correlation[part],
            log_odds_ratio=self.association.log_odds_ratio[part],
        )
        return replace(self, association=association, unit_keys=(), effects=None)


def join_channels(
    fits: Mapping[str, ChannelFit],
    priors: Priors,
    *,
    rng: np.random.Generator,
    near: tuple[Mapping[str, ChannelFit], JointFit] | None = None,
) -> tuple[dict[str, ChannelFit], JointFit | None]:
    """The fits with one number of draws and effects drawn together, and what joins them.

    near : joined fits to nearly the same drains. Where the draws of `fits` are theirs, the association is too, and so
    are the effects of what did not change.

    Only two channels are joined. One alone needs nothing, and three or more stay independent, which overstates the
    risk of the oil where they agree.
    """
    draws = min((fit.draws for fit in fits.values()), default=0)
    thinned = {channel: fit.of_draws(draws) for channel, fit in fits.items()}
    if len(thinned) != 2 or any(not fit.fit.objective.layout.has_units for fit in thinned.values()):
        return {channel: fit.with_effects() for channel, fit in thinned.items()}, None
    (first, second), seed = thinned.values(), int(rng.integers(2**62))
    drains = paired_drains(first, second)
    with one_thread(when=first.processing.one_thread and second.processing.one_thread):
        if near is not None and (known := _known_effects((first, second), drains, near, rng=rng)) is not None:
            joint = replace(near[1], unit_keys=drains.unit_keys, effects=known)
            return _with_joint_effects(thinned, joint.channels, drains.unit_keys, known), joint
        association = _association(first, second, drains.sample(ASSOCIATION_DRAINS, seed), priors, rng=rng)
        names = (first.drains.channel, second.drains.channel)
        if any(fit.processing.linear_effects and fit.effects is None for fit in (first, second)):
            apart = {channel: fit.with_effects() for channel, fit in thinned.items()}
            return apart, JointFit(names, association, (), None)
        state = rng.bit_generator.state
        effects = _effects(first, second, drains, association, rng=rng)
    joined = _with_joint_effects(thinned, names, drains.unit_keys, effects)
    return joined, JointFit(names, association, drains.unit_keys, effects, state)


def joint_effect_draws(
    fits: Mapping[str, ChannelFit], joint: JointFit | None, unit_keys: Sequence[str], *, rng: np.random.Generator
) -> dict[str, Floats]:
    """By channel, effects of units in sd, (units, S): drawn together where the channels are joined.

    A unit without rated drains has two effects with the correlation of the fleet's.
    """
    keys = list(unit_keys)
    if joint is None or joint.effects is None:
        return {channel: unit_effect_draws(fit, keys, rng=rng) for channel, fit in fits.items()}
    index = {key: number for number, key in enumerate(joint.unit_keys)}
    draws = joint.association.correlation.size
    effects = np.empty((2, len(keys), draws))
    for row, key in enumerate(keys):
        number = index.get(key, -1)
        if number >= 0:
            effects[:, row] = joint.effects[:, :, number]
            continue
        correlation, first = joint.association.correlation, stratified_normals(draws, rng)
        effects[0, row] = first
        effects[1, row] = correlation * first + np.sqrt(1 - correlation**2) * stratified_normals(draws, rng)
    return dict(zip(joint.channels, effects, strict=True))


def chained_association(
    fits: Mapping[str, ChannelFit], joint: JointFit | None, priors: Priors, *, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Posterior means of the correlation and the log odds ratio of each channel and the one before it, (C - 1,) each.

    They are those of `joint` where there is one; of three channels and more each pair is estimated by itself.
    Channels without unit effects count as independent.
    """
    one_by_one = list(fits.values())
    if joint is not None:
        pairs = [joint.association]
    elif all(fit.fit.objective.layout.has_units for fit in one_by_one):
        seed = int(rng.integers(2**62))
        pairs = [
            _association(
                first, second, paired_drains(first, second).sample(ASSOCIATION_DRAINS, seed), priors, rng=rng
            )
            for first, second in pairwise(one_by_one)
        ]
    else:
        return np.zeros(len(one_by_one) - 1), np.zeros(len(one_by_one) - 1)
    correlations = np.array([pair.correlation.mean() for pair in pairs])
    return correlations, np.array([pair.log_odds_ratio.mean() for pair in pairs])


def effects_given_readings(
    fits: Mapping[str, ChannelFit], joint: JointFit, measured: Floats, *, rng: np.random.Generator
) -> tuple[dict[str, ChannelFit], JointFit]:
    """The fits with both effects of every measured unit drawn anew, given what its measured values say of them.

    measured : (S, U, 4), as `pair_quadrature.fill_frame` has it, units as in `joint`, whose effects are drawn
    """
    assert joint.effects is not None, "effects of a large fleet are not drawn together"
    first, second = (fits[name] for name in joint.channels)
    drains, units = paired_drains(first, second), np.flatnonzero(measured.any(axis=(0, 2)))
    with one_thread(when=first.processing.one_thread and second.processing.one_thread):
        drawn = _effects(
            first, second, drains.of_units(units), joint.association, rng=rng, measured=measured[:, units]
        )
    effects = joint.effects.copy()
    effects[:, :, units] = drawn
    return _with_joint_effects(fits, joint.channels, drains.unit_keys, effects), replace(joint, effects=effects)


def _with_joint_effects(
    fits: Mapping[str, ChannelFit], channels: tuple[str, str], unit_keys: Sequence[str], effects: Floats
) -> dict[str, ChannelFit]:
    """The fits with their side of the effects (2, S, U)."""
    index = {key: number for number, key in enumerate(unit_keys)}
    joined = {
        name: replace(fits[name], effects=effects[side][:, [index[key] for key in fits[name].unit_keys]])
        for side, name in enumerate(channels)
    }
    return {**fits, **joined}


def _known_effects(
    fits: tuple[ChannelFit, ChannelFit],
    drains: PairedDrains,
    near: tuple[Mapping[str, ChannelFit], JointFit],
    *,
    rng: np.random.Generator,
) -> Floats | None:
    """Both effects of every unit, (2, S, U), the known ones where unit and draw are unchanged; None where no draw is.

    Effects of other draws get the random numbers that they had there, so interpretations differ little by chance.
    """
    joint = near[1]
    known = [near[0][channel] for channel in joint.channels]
    same = unchanged_draws(fits, known)
    if same is None or joint.effects is None:
        return None
    index = unchanged_units(fits, known, unit_keys=drains.unit_keys, near_keys=joint.unit_keys)
    effects = joint.effects[:, :, index]
    again = np.random.default_rng()
    again.bit_generator.state = joint.random_state
    effects[:, ~same] = _effects(*fits, drains, joint.association, rng=again, among=~same)
    other_units = np.flatnonzero(index < 0)
    if other_units.size:
        effects[:, :, other_units] = _effects(*fits, drains.of_units(other_units), joint.association, rng=rng)
    return effects


def _association(
    first: ChannelFit, second: ChannelFit, drains: PairedDrains, priors: Priors, *, rng: np.random.Generator
) -> Association:
    """The association's draws, given the posterior means of the channels' parameters."""
    first_ratings, second_ratings = (
        channel_ratings(fit, drains.rows[side], _natural(fit).mean(axis=0, keepdims=True))
        for side, fit in enumerate((first, second))
    )
    link = first.fit.objective.likelihood.link.code
    return sampled_association(
        first_ratings, second_ratings, drains.starts, link=link, priors=priors, draws=first.draws, rng=rng
    )


def _effects(
    first: ChannelFit,
    second: ChannelFit,
    drains: PairedDrains,
    association: Association,
    *,
    rng: np.random.Generator,
    measured: Floats | None = None,
    among: Booleans | None = None,
) -> Floats:
    """Both effects of every unit, (2, S, U), some draws at a time.

    measured : (S, U, 4), None for nothing; among : (S,), which of the draws are wanted, all by default
    """
    natural = [_natural(fit) for fit in (first, second)]
    link, draws = first.fit.objective.likelihood.link.code, first.draws
    chunk = max(1, _CHUNK_NUMBERS // max(drains.rows.shape[1], 8 * len(drains.unit_keys)))
    pieces = []
    for begin, end in pairwise([*range(0, draws, chunk), draws]):
        part: slice | Integers = slice(begin, end)
        if among is not None:
            part = begin + np.flatnonzero(among[begin:end])
        pieces.append(
            joint_unit_effects(
                channel_ratings(first, drains.rows[0], natural[0][part]),
                channel_ratings(second, drains.rows[1], natural[1][part]),
                drains.starts,
                link=link,
                association=replace(
                    association,
                    correlation=association.correlation[part],
                    log_odds_ratio=association.log_odds_ratio[part],
                ),
                rng=rng,
                measured=None if measured is None else measured[part],
                among=None if among is None else among[begin:end],
            )
        )
    return np.concatenate(pieces, axis=1)


def _natural(fit: ChannelFit) -> Floats:
    """Draws of the natural parameters, (S, P)."""
    return fit.fit.objective.layout.natural(fit.posterior.draws)
