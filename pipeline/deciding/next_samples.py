"""What to drain next: the few units and hours whose rating would narrow the answers most.

Greedy over expected drops in the variance of log intervals: the fleet's mean, and beside it the unit's own where
the unit is new or its interval wide, as one unit among all. Hours stay within the caps. Hours past the accepted risk
are offered, marked, only where they are far more informative, and up to twice that risk.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.candidate_drains import Candidates, sample_candidates, units_to_sample
from draincurve.pipeline.deciding.expected_information_gain import ChannelInformation, channel_information
from draincurve.pipeline.deciding.oil_curves import OilCurves, channel_risks, risk_interval
from draincurve.pipeline.fitting import ChannelFit
from draincurve.schemas.array_types import Booleans, Floats, Integers
from draincurve.schemas.settings import Settings

MOST_SAMPLES = 6
WORTH_THE_RISK = 1.5
"""Hours past the accepted risk must be this many times as informative as the best within it."""
LEAST_FOR_THE_RISK = 0.04
"""They must also reduce the variance of the fleet's log interval by this share."""
LEAST_NARROWING = 0.01
"""A drain that narrows its range by less than this share is not proposed."""
WIDE = 1.5
"""A unit is wide when the sd of its log interval is this many times the median unit's."""


@dataclass(frozen=True, slots=True)
class NextSample:
    """One drain worth having.

    at_hours [h]; past_accepted_risk : whether the probability of oil past fit is then over what is accepted;
    narrower : sd of the log interval after over before, the drains above it in the list done; of : whose interval
    that is, `fleet` or `unit`; why : plain sentences
    """

    unit_id: str
    site: str | None
    channel: str
    at_hours: float
    past_accepted_risk: bool
    narrower: float
    of: str
    why: str


def next_samples(
    fits: Mapping[str, ChannelFit],
    curves: OilCurves,
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    settings: Settings,
    fleet: pl.DataFrame | None = None,
) -> tuple[NextSample, ...]:
    """Up to six drains, each of another unit, the most informative first; empty where none is informative enough.

    fits, curves : by channel, rows of the curves as those of `state`; state : current units, with the
    conditions of the fill; next_service : the table decided, for the hours that are on the oil now. Units with a sign
    to inspect are left out, and so is a unit that is past its caps already: it is due. fleet : all
    units, where `state` holds only some of them.
    """
    if not fits:
        return ()
    asked = units_to_sample(state)
    fleet, state = state if fleet is None else fleet, state[asked]
    curves = curves.rows(asked)
    candidates = sample_candidates(fits, curves, state, next_service, settings)
    risks = channel_risks(curves, risk_interval(curves, settings.accepted_risk))
    shortest = np.argmax([risks[name] for name in fits], axis=0)
    channels = {
        name: channel_information(
            fit, state, fleet, candidates.row, candidates.hours, settings.limit_rating(name), settings.accepted_risk
        )
        for name, fit in fits.items()
    }
    weights = {name: float(np.mean(shortest == number)) for number, name in enumerate(fits)}
    new = _few_drains(fits, state, settings)
    chosen: list[NextSample] = []
    allowed = np.ones(candidates.row.size, dtype=bool)
    scores = _scores(channels, weights, shortest, new, candidates)
    while allowed.any() and len(chosen) < MOST_SAMPLES:
        before = sum(weights[name] * item.intervals.fleet_variance for name, item in channels.items())
        best = _best(scores, candidates, allowed, LEAST_FOR_THE_RISK * before)
        allowed &= candidates.row != candidates.row[best]
        if scores.narrower[best] > 1.0 - LEAST_NARROWING:
            continue
        chosen.append(_sample(best, scores, candidates, fits, state, new, settings))
        channels = {name: item.after(best) for name, item in channels.items()}
        scores = _scores(channels, weights, shortest, new, candidates)
    return tuple(chosen)


@dataclass(frozen=True, slots=True)
class Scores:
    """What each candidate is worth, (C,) each.

    total : the criterion of the choice, weighted drops in variance;  for_unit : whether most of it is the unit's own;
    channel : index of the channel that gives most of it, or of the unit's shortest one where it is the unit's own
    narrower : sd of that log interval after the drain over before
    """

    total: Floats
    for_unit: Booleans
    channel: Integers
    narrower: Floats


def _scores(
    channels: Mapping[str, ChannelInformation],
    weights: Mapping[str, float],
    shortest: Integers,
    new: Booleans,
    candidates: Candidates,
) -> Scores:
    row, each = candidates.row, np.arange(candidates.row.size)
    to_fleet, to_unit = np.array([item.expected_drops() for item in channels.values()]).transpose(1, 0, 2)
    unit_variances = np.array([item.intervals.unit_variances for item in channels.values()])
    sd = np.sqrt(unit_variances)
    counts = (new | (sd > WIDE * np.median(sd, axis=1, keepdims=True)))[shortest, np.arange(shortest.size)]
    own_unit = np.where(counts[row], to_unit[shortest[row], each] / shortest.size, 0.0)
    fleet = to_fleet * np.array([weights[name] for name in channels])[:, None]
    for_unit = own_unit > fleet.sum(axis=0)
    channel = np.where(for_unit, shortest[row], np.argmax(fleet, axis=0))
    fleet_variance = np.array([item.intervals.fleet_variance for item in channels.values()])
    drop = np.where(for_unit, to_unit[channel, each], to_fleet[channel, each])
    before = np.where(for_unit, unit_variances[channel, row], fleet_variance[channel])
    return Scores(fleet.sum(axis=0) + own_unit, for_unit, channel, np.sqrt(np.maximum(1.0 - drop / before, 0.0)))


def _best(scores: Scores, candidates: Candidates, allowed: Booleans, least: float) -> int:
    """The candidate with the largest total, preferably within the accepted risk.

    One past the accepted risk is taken only if its total is far larger than all others' and over `least`. Once only
    units are left that are past the accepted risk already, the best of these.
    """
    total = np.where(allowed, scores.total, -1.0)
    within = np.where(candidates.past, -1.0, total)
    best, safe = int(np.argmax(total)), int(np.argmax(within))
    if within[safe] < 0:
        return best
    return best if total[best] > max(WORTH_THE_RISK * within[safe], least) else safe


def _few_drains(fits: Mapping[str, ChannelFit], state: pl.DataFrame, settings: Settings) -> Booleans:
    """Whether a unit has fewer rated drains, in some channel, than it takes to call it."""
    few = np.zeros(state.height, dtype=bool)
    for fit in fits.values():
        rated = np.append(fit.rated, 0)[fit.unit_index(state["unit_key"].to_list())]
        few |= rated < settings.standing.fewest_drains
    return few


def _sample(
    best: int,
    scores: Scores,
    candidates: Candidates,
    fits: Mapping[str, ChannelFit],
    state: pl.DataFrame,
    new: Booleans,
    settings: Settings,
) -> NextSample:
    """The chosen candidate in words and numbers."""
    row, hours = int(candidates.row[best]), float(candidates.hours[best])
    for_unit, name = bool(scores.for_unit[best]), list(fits)[scores.channel[best]]
    past = bool(candidates.past[best])
    why = _reason(fits[name], hours, for_unit, bool(new[row]))
    if past:
        why += (
            f" The chance of oil past fit is {100 * candidates.risk[best]:.0f} % by then, over the "
            f"{100 * settings.accepted_risk:.3g} % accepted: agree on it first."
        )
    return NextSample(
        unit_id=state["unit_id"][row],
        site=state["site"][row],
        channel=name,
        at_hours=hours,
        past_accepted_risk=past,
        narrower=float(scores.narrower[best]),
        of="unit" if for_unit else "fleet",
        why=why,
    )


def _reason(fit: ChannelFit, hours: float, for_unit: bool, new: bool) -> str:
    """Why this drain: what the log lacks."""
    earliest, low, middle, high, latest = np.exp(np.quantile(fit.drains.log_hours, (0.0, 0.1, 0.5, 0.9, 1.0)))
    if for_unit:
        few = "Few drains of this unit are rated" if new else "This unit's hours are known less well than most"
        return f"{few}; one at {hours:g} h tells its own interval."
    if high < 1.25 * low:
        return f"Most drains were at {middle:.3g} h or near it; one at {hours:g} h tells how ratings grow with hours."
    if hours >= high:
        long = f"{'No drain' if hours > latest else 'Few drains'} ran as long as {hours:g} h"
        return f"{long}; a rating there tells where the limit is."
    if hours <= low:
        early = f"{'No drain was' if hours < earliest else 'Few drains were'} as early as {hours:g} h"
        return f"{early}; a rating there tells how ratings grow with hours."
    return f"At {hours:g} h a rating of this unit's oil tells most about where the limit is."
