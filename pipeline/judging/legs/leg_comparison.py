"""Both legs of each pair against what pairs usually differ by.

Pairs are ridden together, so what tells is their difference. It is estimated from the two legs' own ratings; how much
pairs differ is estimated from the other pairs (Paule & Mandel 1982, J. Res. Natl. Bur. Stand. 87, 377-385), drawn
towards a usual difference while there are few. A pair is named where its difference is past that by a t test (on
either channel or on both together), after correction for looking so often, and large enough to matter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import stdtr

from draincurve.pipeline.describing import TOO_FEW, LegPair
from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.holm import holm
from draincurve.pipeline.judging.legs.leg_likelihood import FALSE_ALARM, leg_estimates
from draincurve.pipeline.judging.legs.leg_swaps import PossibleSwap
from draincurve.schemas.array_types import Booleans, Floats, Integers
from draincurve.schemas.settings import StandingRule

PRIOR_SD = float(np.log(1.2))
PRIOR_PAIRS = 3.0
"""Before the log speaks, oil lasts 1.2 times as long in one leg of a pair (one standard deviation); this counts as so
many pairs (our choice)."""

FEWEST_OTHERS = 3
"""With fewer other pairs nothing says what pairs usually differ by, and none is named."""

ONE_IN_TEN = 1.6448536269514722
"""Standard deviations that a normal number passes, on either side, once in ten."""

PAIRS_AT_ONCE = 2000
EACH_ALONE = 200
"""Up to so many pairs each is held against the others only; in a larger fleet one pair hardly moves the spread."""

ALIKE = "like other pairs"
DIFFERS = "differs from its partner"
BY_FUNCTION = "differs by function"


@dataclass(frozen=True, slots=True)
class LegResult:
    """Pairs of the units in service.

    partners : unit key to the key of the other leg, both ways; unclear : sentences on machines whose legs cannot be
    paired.
    """

    partners: Mapping[str, str] = field(default_factory=dict)
    pairs: tuple[LegPair, ...] = ()
    swaps: tuple[PossibleSwap, ...] = ()
    unclear: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Evidence:
    """What one channel, or both together, say of the pairs, (P,) each: log hours ratios left over right.

    found, own : the pair's own evidence and its variance, infinite where there is none; usual : variance between
    pairs, seen without the pair; freedom : of `usual`.
    """

    found: Floats
    own: Floats
    usual: Floats
    freedom: float

    def p_values(self) -> Floats:
        """Two-sided, (P,); 1 where there is no evidence. Freedom by Satterthwaite: only `usual` is uncertain."""
        known = np.isfinite(self.own)
        variance = np.where(known, self.own, 1.0) + self.usual
        freedom = self.freedom * np.square(variance / np.maximum(self.usual, 1e-12))
        return np.where(known, 2.0 * stdtr(freedom, -np.abs(self.found) / np.sqrt(variance)), 1.0)


@dataclass(frozen=True)
class _Draws:
    """One channel's posterior of the pairs: quantiles (3, P) of log hours ratios, and rated drains of both (P, 2)."""

    channel: str
    quantiles: Floats
    drains: Integers
    evidence: _Evidence


def compare_legs(
    fits: Sequence[ChannelFit], pairs: tuple[LegPair, ...], *, rule: StandingRule
) -> tuple[LegPair, ...]:
    """The pairs with their difference and verdict, in the order given.

    A leg with fewer rated drains than the rule's fewest is not judged, and none is where there are few pairs; a pair
    that differs by function is shown but never blamed.
    """
    if not pairs or not fits:
        return pairs
    alike = np.array([not pair.by_function for pair in pairs])
    channels = [_channel(fit, pairs, alike=alike, fewest=rule.fewest_drains) for fit in fits]
    looks = [one.evidence for one in channels]
    if len(looks) > 1:
        looks.append(_together(looks, alike))
    each = np.array([look.p_values() for look in looks])
    rated = np.array([one.drains.min(axis=1) > 0 for one in channels])
    lowest = np.minimum(each.min(axis=0) * len(looks), 1.0)
    tested = np.flatnonzero(alike & np.isfinite(looks[-1].own))
    tested = tested if tested.size > FEWEST_OTHERS else tested[:0]
    adjusted = dict(zip(tested.tolist(), holm(lowest[tested].tolist()), strict=True))
    speaks = np.where(rated, each[: len(channels)], np.inf).argmin(axis=0)
    return tuple(
        _judged(at, pair, channels=channels, speaks=int(speaks[at]), p_adjusted=adjusted.get(at), rule=rule)
        for at, pair in enumerate(pairs)
    )


def _judged(
    at: int, pair: LegPair, *, channels: Sequence[_Draws], speaks: int, p_adjusted: float | None, rule: StandingRule
) -> LegPair:
    """One pair's verdict, shown on the channel that speaks most."""
    rated = [one for one in channels if one.drains[at].min() > 0]
    if not rated:
        return pair
    one = channels[speaks] if p_adjusted is not None else max(rated, key=lambda item: int(item.drains[at].min()))
    low, median, high = (float(value) for value in np.exp(one.quantiles[:, at]))
    shown = replace(
        pair,
        channel=one.channel,
        hours_ratio=median,
        low=low,
        high=high,
        usual_ratio=float(np.exp(ONE_IN_TEN * np.sqrt(one.evidence.usual[at]))),
        p_adjusted=p_adjusted,
        drains_left=int(one.drains[at, 0]),
        drains_right=int(one.drains[at, 1]),
    )
    if pair.by_function:
        return replace(shown, verdict=BY_FUNCTION)
    if p_adjusted is None:
        return replace(shown, verdict=TOO_FEW)
    if p_adjusted <= FALSE_ALARM and max(median, 1.0 / median) >= 1.0 / rule.ratio:
        return replace(shown, verdict=DIFFERS, named=pair.left if median < 1 else pair.right)
    return replace(shown, verdict=ALIKE)


def _channel(fit: ChannelFit, pairs: tuple[LegPair, ...], *, alike: Booleans, fewest: int) -> _Draws:
    """One channel's posterior of the pairs, and what the legs' own ratings say of them."""
    place = {key: index for index, key in enumerate(fit.unit_keys)}
    legs = np.array([[place.get(key, -1) for key in (pair.left, pair.right)] for pair in pairs])
    starts = np.searchsorted(labels := fit.drains.units.astype(str), sorted(place))
    drains = np.where(legs >= 0, np.diff(np.append(starts, labels.size))[legs], 0)
    rated = drains.min(axis=1) > 0
    ratio = -fit.unit_sd / fit.hours_slope
    quantiles = np.full((3, len(pairs)), np.nan)
    for some in np.array_split(np.flatnonzero(rated), 1 + rated.size // PAIRS_AT_ONCE):
        draws = ratio[:, None] * (fit.effects_of(legs[some, 0]) - fit.effects_of(legs[some, 1]))
        quantiles[:, some] = np.quantile(draws, (0.05, 0.5, 0.95), axis=0)
    found, own = leg_estimates(fit, starts)
    known = drains.min(axis=1) >= fewest
    variance = np.where(known, own[legs].sum(axis=1), np.inf)
    difference = np.where(np.isfinite(variance), found[legs[:, 0]] - found[legs[:, 1]], 0.0)
    return _Draws(fit.drains.channel, quantiles, drains, _held_against(difference, variance, alike=alike))


def _together(looks: Sequence[_Evidence], alike: Booleans) -> _Evidence:
    """All channels as one, each pair's weighed by what they know."""
    precision = np.array([1.0 / look.own for look in looks])
    total = precision.sum(axis=0)
    own = np.where(total > 0, 1.0 / np.where(total > 0, total, 1.0), np.inf)
    weighed = (precision * np.array([look.found for look in looks])).sum(axis=0)
    return _held_against(weighed / np.where(total > 0, total, 1.0), own, alike=alike)


def _held_against(found: Floats, own: Floats, *, alike: Booleans) -> _Evidence:
    """Evidence with the variance between pairs as each pair's fellows show it."""
    known = alike & np.isfinite(own)
    everyone = known[None, :]
    others = everyone if known.sum() > EACH_ALONE else everyone & ~np.eye(found.size, dtype=bool)
    number = others.sum(axis=1)
    seen = paule_mandel(np.where(others, found, 0.0), np.where(others, own, np.inf), number=number)
    usual = np.broadcast_to((seen * number + PRIOR_SD**2 * PRIOR_PAIRS) / (number + PRIOR_PAIRS), found.shape)
    return _Evidence(found, own, usual, PRIOR_PAIRS + max(float(known.sum()) - 1.0, 0.0))


def paule_mandel(found: Floats, own: Floats, *, number: Integers) -> Floats:
    """Variance between effects whose mean is nought, one a row, (R,).

    found, own : (R, P), effects and the variances of their own errors, infinite where there is none; number : (R,)
    effects in each row. Solves sum found^2 / (between + own) = number; nought where the errors explain it all.
    """
    low = np.zeros(found.shape[0])
    high = np.square(found).max(axis=1, initial=0.0) * np.maximum(number, 1)
    for _ in range(60):
        middle = 0.5 * (low + high)
        with np.errstate(divide="ignore", invalid="ignore"):
            weighed = np.where(np.isfinite(own), np.square(found) / (middle[:, None] + own), 0.0)
        over = weighed.sum(axis=1) > number
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return low
