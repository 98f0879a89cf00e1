"""The two legs of each pair, compared with how much legs of a pair usually differ.

Both legs are ridden together, so only their difference matters. It is estimated from the two legs' own ratings. The
variance between pairs is estimated from the other pairs (Paule & Mandel 1982, J. Res. Natl. Bur. Stand. 87, 377-385)
and shrunk towards a prior value while there are few of them. A pair is named where a t test (on a single channel, or
on all together) finds its difference larger than usual, after correction for multiple tests, and where the difference
is large enough to matter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import stdtr

from draincurve.pipeline.describing import TOO_FEW, LegPair
from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.holm import holm
from draincurve.pipeline.judging.legs.leg_likelihood import FALSE_ALARM, leg_estimates
from draincurve.pipeline.judging.legs.leg_swaps import PossibleSwap
from draincurve.schemas.array_types import Booleans, Floats, Integers
from draincurve.schemas.settings import StandingRule

PRIOR_SD = float(np.log(1.2))
PRIOR_PAIRS = 3.0
"""A priori oil lasts 1.2 times as long in one leg of a pair (one standard deviation), with the weight of PRIOR_PAIRS
pairs (our choice)."""

FEWEST_OTHERS = 3
"""With fewer other pairs it is not known how much pairs usually differ, and none is named."""

ONE_IN_TEN = 1.6448536269514722
"""Standard deviations that a normal variable exceeds, on either side, with probability one in ten."""

PAIRS_AT_ONCE = 2000
EACH_ALONE = 200
"""Up to this number of pairs, each is compared with the others only; among more, one hardly changes the variance."""

LIKE_OTHER_PAIRS = "like other pairs"
DIFFERS = "differs from its partner"
BY_FUNCTION = "differs by function"


@dataclass(frozen=True, slots=True)
class LegResult:
    """Pairs of the units in service.

    partners : unit key to the key of the other leg, both ways; unclear : sentences on machines whose legs cannot be
    paired; unseen : keys of left legs where entries swapped on one day alone would not show.
    """

    partners: Mapping[str, str] = field(default_factory=dict)
    pairs: tuple[LegPair, ...] = ()
    swaps: tuple[PossibleSwap, ...] = ()
    unclear: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Evidence:
    """Log hours ratios, left over right, from one channel or all together, (P,) each.

    estimate, variance : from the pair's own ratings; the variance is infinite where there are none. between :
    variance between pairs, estimated without the pair; freedom : degrees of freedom of `between`.
    """

    estimate: Floats
    variance: Floats
    between: Floats
    freedom: float

    def p_values(self) -> Floats:
        """Two-sided, (P,); 1 without ratings. Freedom after Satterthwaite, as only `between` is estimated."""
        known = np.isfinite(self.variance)
        total = np.where(known, self.variance, 1.0) + self.between
        freedom = self.freedom * np.square(total / np.maximum(self.between, 1e-12))
        return np.where(known, 2.0 * stdtr(freedom, -np.abs(self.estimate) / np.sqrt(total)), 1.0)


@dataclass(frozen=True)
class _ChannelPairs:
    """One channel's pairs: posterior quantiles (3, P) of log hours ratios, and rated drains of both legs (P, 2)."""

    channel: str
    quantiles: Floats
    drains: Integers
    evidence: _Evidence


def compare_legs(
    fits: Sequence[ChannelFit], pairs: tuple[LegPair, ...], *, rule: StandingRule
) -> tuple[LegPair, ...]:
    """The pairs with their difference and verdict, in the order given.

    A leg with fewer rated drains than the rule's fewest is not judged, and no leg is where there are few pairs; a
    pair whose legs differ by function is shown but never named.
    """
    if not pairs or not fits:
        return pairs
    comparable = np.array([not pair.by_function for pair in pairs])
    channels = [_channel(fit, pairs, comparable=comparable, fewest=rule.fewest_drains) for fit in fits]
    evidence = [channel.evidence for channel in channels]
    if len(evidence) > 1:
        evidence.append(_combined(evidence, comparable))
    p_values = np.array([each.p_values() for each in evidence])
    rated = np.array([channel.drains.min(axis=1) > 0 for channel in channels])
    lowest = np.minimum(p_values.min(axis=0) * len(evidence), 1.0)
    tested = np.flatnonzero(comparable & np.isfinite(evidence[-1].variance))
    tested = tested if tested.size > FEWEST_OTHERS else tested[:0]
    adjusted = dict(zip(tested.tolist(), holm(lowest[tested].tolist()), strict=True))
    clearest = np.where(rated, p_values[: len(channels)], np.inf).argmin(axis=0)
    return tuple(
        _judged(
            index, pair, channels=channels, clearest=int(clearest[index]), p_adjusted=adjusted.get(index), rule=rule
        )
        for index, pair in enumerate(pairs)
    )


def _judged(
    index: int,
    pair: LegPair,
    *,
    channels: Sequence[_ChannelPairs],
    clearest: int,
    p_adjusted: float | None,
    rule: StandingRule,
) -> LegPair:
    """One pair's verdict, with the ratio from the channel of the clearest evidence, or if untested of most drains."""
    rated = [channel for channel in channels if channel.drains[index].min() > 0]
    if not rated:
        return pair
    shown_in = channels[clearest] if p_adjusted is not None else max(rated, key=lambda item: item.drains[index].min())
    low, median, high = (float(value) for value in np.exp(shown_in.quantiles[:, index]))
    shown = replace(
        pair,
        channel=shown_in.channel,
        hours_ratio=median,
        low=low,
        high=high,
        usual_ratio=float(np.exp(ONE_IN_TEN * np.sqrt(shown_in.evidence.between[index]))),
        p_adjusted=p_adjusted,
        drains_left=int(shown_in.drains[index, 0]),
        drains_right=int(shown_in.drains[index, 1]),
    )
    if pair.by_function:
        return replace(shown, verdict=BY_FUNCTION)
    if p_adjusted is None:
        return replace(shown, verdict=TOO_FEW)
    if p_adjusted <= FALSE_ALARM and max(median, 1.0 / median) >= 1.0 / rule.ratio:
        return replace(shown, verdict=DIFFERS, named=pair.left if median < 1 else pair.right)
    return replace(shown, verdict=LIKE_OTHER_PAIRS)


def _channel(fit: ChannelFit, pairs: tuple[LegPair, ...], *, comparable: Booleans, fewest: int) -> _ChannelPairs:
    """One channel's posterior of the pairs, and the estimates from the legs' own ratings."""
    index_of = {key: index for index, key in enumerate(fit.unit_keys)}
    legs = np.array([[index_of.get(key, -1) for key in (pair.left, pair.right)] for pair in pairs])
    starts = np.searchsorted(labels := fit.drains.units.astype(str), sorted(index_of))
    drains = np.where(legs >= 0, np.diff(np.append(starts, labels.size))[legs], 0)
    rated = drains.min(axis=1) > 0
    ratio = -fit.unit_sd / fit.hours_slope
    quantiles = np.full((3, len(pairs)), np.nan)
    for chunk in np.array_split(np.flatnonzero(rated), 1 + rated.size // PAIRS_AT_ONCE):
        draws = ratio[:, None] * (fit.effects_of(legs[chunk, 0]) - fit.effects_of(legs[chunk, 1]))
        quantiles[:, chunk] = np.quantile(draws, (0.05, 0.5, 0.95), axis=0)
    leg_ratios, leg_variances = leg_estimates(fit, starts)
    known = drains.min(axis=1) >= fewest
    variance = np.where(known, leg_variances[legs].sum(axis=1), np.inf)
    difference = np.where(np.isfinite(variance), leg_ratios[legs[:, 0]] - leg_ratios[legs[:, 1]], 0.0)
    return _ChannelPairs(
        fit.drains.channel, quantiles, drains, _evidence(difference, variance, comparable=comparable)
    )


def _combined(evidence: Sequence[_Evidence], comparable: Booleans) -> _Evidence:
    """All channels together: the precision-weighted mean of each pair's estimates."""
    precision = np.array([1.0 / each.variance for each in evidence])
    total = precision.sum(axis=0)
    variance = np.where(total > 0, 1.0 / np.where(total > 0, total, 1.0), np.inf)
    weighted = (precision * np.array([each.estimate for each in evidence])).sum(axis=0)
    return _evidence(weighted / np.where(total > 0, total, 1.0), variance, comparable=comparable)


def _evidence(estimate: Floats, variance: Floats, *, comparable: Booleans) -> _Evidence:
    """Evidence with the variance between pairs, for each pair as estimated from the others."""
    known = comparable & np.isfinite(variance)
    everyone = known[None, :]
    others = everyone if known.sum() > EACH_ALONE else everyone & ~np.eye(estimate.size, dtype=bool)
    number = others.sum(axis=1)
    observed = paule_mandel(np.where(others, estimate, 0.0), np.where(others, variance, np.inf), number=number)
    between = (observed * number + PRIOR_SD**2 * PRIOR_PAIRS) / (number + PRIOR_PAIRS)
    freedom = PRIOR_PAIRS + max(float(known.sum()) - 1.0, 0.0)
    return _Evidence(estimate, variance, np.broadcast_to(between, estimate.shape), freedom)


def paule_mandel(effects: Floats, variances: Floats, *, number: Integers) -> Floats:
    """Variance between effects of mean zero, for each row, (R,).

    effects, variances : (R, P), effects and their sampling variances, infinite where there is no effect; number :
    (R,) effects in each row. Solves sum effects^2 / (between + variances) = number; zero where there is no solution.
    """
    low = np.zeros(effects.shape[0])
    high = np.square(effects).max(axis=1, initial=0.0) * np.maximum(number, 1)
    for _ in range(60):
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore", invalid="ignore"):
            weighted = np.where(np.isfinite(variances), np.square(effects) / (middle[:, None] + variances), 0.0)
        over = weighted.sum(axis=1) > number
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return low
