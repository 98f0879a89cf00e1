"""What to drain next: the few units and hours whose rating would narrow the answers most.

Greedy over expected drops in the variance of log intervals: the fleet's mean, and beside it the unit's own where the
unit is new or wide, as one unit among all. Hours stay within the caps. Hours past the accepted risk are offered only
where they tell far more, up to twice that risk, and are marked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.deciding.caps import data_range_limit, round_down, shorter_limit
from pipeline.deciding.expected_narrowing import Narrowing, narrowing
from pipeline.deciding.hours_curves import HoursCurves, risk_at, risk_interval
from pipeline.describing.fleet_state import longest_fill
from pipeline.fitting.channel_fit import ChannelFit
from schemas.settings import Settings

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

MOST_SAMPLES = 6
HOURS_TRIED = 10
SHORTEST_SHARE = 0.5
"""Nothing earlier than this share of the fleet's usual fill: a drain costs oil and work."""
MOST_RISK = 2.0
"""Hours past the accepted risk go up to this multiple of it."""
WORTH_THE_RISK = 1.5
"""They must tell this many times as much as the best hours within the accepted risk."""
WIDE = 1.5
"""A unit is wide when the sd of its log interval is this many times the median unit's."""


@dataclass(frozen=True, slots=True)
class NextSample:
    """One drain worth having.

    at_hours [h]; past_accepted_risk : whether the chance of oil past fit is then over what is accepted;
    narrower : sd of the log interval after over before, the drains above it in the list done; of : whose interval
    that is, `fleet` or `unit`; why : one sentence
    """

    unit_id: str
    site: str | None
    channel: str
    at_hours: float
    past_accepted_risk: bool
    narrower: float
    of: str
    why: str


@dataclass(frozen=True, slots=True)
class Candidates:
    """Drains that could be had: unit (row of the state), hours [h], chance of oil past fit; (C,) each."""

    row: Rows
    hours: Floats
    risk: Floats
    past: NDArray[np.bool_]


def next_samples(
    fits: Mapping[str, ChannelFit],
    curves: Mapping[str, HoursCurves],
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    settings: Settings,
) -> tuple[NextSample, ...]:
    """Up to six drains, each of another unit, the most telling first; empty without a fit.

    fits, curves : by channel, rows of the curves as those of `state`; state : units as they stand, with the
    conditions of the fill; next_service : the table decided, for the hours that are on the oil now. Units with a sign
    that asks for inspection are left out. A unit that is past its caps already is left out too: it is due.
    """
    if not fits:
        return ()
    candidates = _candidates(fits, curves, state, next_service, settings)
    shortest = np.argmin([risk_interval(curves[name], settings.accepted_risk) for name in fits], axis=0)
    channels = {
        name: narrowing(
            fit, state, candidates.row, candidates.hours, settings.limit_rating(name), settings.accepted_risk
        )
        for name, fit in fits.items()
    }
    weights = {name: float(np.mean(shortest == number)) for number, name in enumerate(fits)}
    new = _few_drains(fits, state, settings)
    chosen: list[NextSample] = []
    allowed = np.ones(candidates.row.size, dtype=bool)
    while allowed.any() and len(chosen) < MOST_SAMPLES:
        scores = _scores(channels, weights, shortest, new, candidates)
        best = _best(scores, candidates, allowed)
        chosen.append(_sample(best, scores, channels, candidates, fits, state, new, settings))
        allowed &= candidates.row != candidates.row[best]
        channels = {name: item.after(best) for name, item in channels.items()}
    return tuple(chosen)


@dataclass(frozen=True, slots=True)
class Scores:
    """Weighted drops in variance by candidate.

    fleet : (channels, C);  own : (C,), the unit's own, 0 where it does not count;  own_channel : (C,), its place.
    """

    fleet: Floats
    own: Floats
    own_channel: Rows

    @property
    def total(self) -> Floats:
        """What the choice goes by."""
        return np.asarray(self.fleet.sum(axis=0) + self.own)


def _scores(
    channels: Mapping[str, Narrowing],
    weights: Mapping[str, float],
    shortest: Rows,
    new: NDArray[np.bool_],
    candidates: Candidates,
) -> Scores:
    fleet, own = [], np.zeros(candidates.row.size)
    for number, (name, item) in enumerate(channels.items()):
        to_fleet, to_unit = item.expected_drops()
        fleet.append(weights[name] * to_fleet)
        sd = np.sqrt(item.unit_variances())
        counts = (new | (sd > WIDE * np.median(sd))) & (shortest == number)
        own += np.where(counts[candidates.row], to_unit / shortest.size, 0.0)
    return Scores(np.array(fleet), own, shortest[candidates.row])


def _best(scores: Scores, candidates: Candidates, allowed: NDArray[np.bool_]) -> int:
    """The candidate of the largest total; one past the accepted risk only where it tells far more."""
    total = np.where(allowed, scores.total, -1.0)
    within = np.where(candidates.past, -1.0, total)
    best, safe = int(np.argmax(total)), int(np.argmax(within))
    return best if total[best] > WORTH_THE_RISK * max(within[safe], 0.0) else safe


def _candidates(
    fits: Mapping[str, ChannelFit],
    curves: Mapping[str, HoursCurves],
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    settings: Settings,
) -> Candidates:
    """Hours on the shop's step for every unit that may be asked for: not under what is on its oil, not over a cap."""
    rated = pl.concat([fit.drains.rows.select("spring_type", "oil_hours", "service_kind") for fit in fits.values()])
    longest = longest_fill(rated)
    cap = np.minimum(
        shorter_limit(state["max_interval_h"], settings.caps.max_interval_h),
        data_range_limit(state["spring_type"], longest, settings.data_range_factor),
    )
    riskiest = min(MOST_RISK * settings.accepted_risk, 0.95)
    upper = np.min([cap, *(risk_interval(curve, riskiest) for curve in curves.values())], axis=0)
    on_oil = _hours_on_oil(state, next_service)
    lower = np.maximum(on_oil, SHORTEST_SHARE * float(np.median(rated["oil_hours"].to_numpy())))
    signed = state["signs"].is_not_null().to_numpy()
    rows, hours = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    for row in np.flatnonzero(~signed & np.isfinite(upper) & (upper >= on_oil)):
        tried = np.geomspace(min(lower[row], upper[row]), upper[row], HOURS_TRIED)
        steps = np.unique(round_down(tried, settings.step_h))
        steps = steps[(steps >= on_oil[row]) & (steps > 0)]
        rows.append(np.full(steps.size, row))
        hours.append(steps)
    row_of, hours_of = np.concatenate(rows), np.concatenate(hours)
    risk = np.max([risk_at(curve.rows(row_of.astype(np.intp)), hours_of) for curve in curves.values()], axis=0)
    return Candidates(row_of, hours_of, risk, risk > settings.accepted_risk * (1 + 1e-9))


def _hours_on_oil(state: pl.DataFrame, next_service: pl.DataFrame) -> Floats:
    """Hours on each unit's oil now [h]; 0 where they are not known."""
    joined = state.select("unit_id", "site").join(
        next_service.select("unit_id", "site", "hours_on_oil"),
        on=["unit_id", "site"],
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    return joined["hours_on_oil"].fill_null(0.0).to_numpy()


def _few_drains(fits: Mapping[str, ChannelFit], state: pl.DataFrame, settings: Settings) -> NDArray[np.bool_]:
    """Whether a unit has fewer rated drains, in some channel, than it takes to call it."""
    few = np.zeros(state.height, dtype=bool)
    for fit in fits.values():
        counts = fit.drains.rows.group_by("unit_key").len()
        rated = state.select("unit_key").join(counts, on="unit_key", how="left", maintain_order="left")["len"]
        few |= rated.fill_null(0).to_numpy() < settings.standing.fewest_drains
    return few


def _sample(
    best: int,
    scores: Scores,
    channels: Mapping[str, Narrowing],
    candidates: Candidates,
    fits: Mapping[str, ChannelFit],
    state: pl.DataFrame,
    new: NDArray[np.bool_],
    settings: Settings,
) -> NextSample:
    """The chosen candidate in words and numbers."""
    row, hours = int(candidates.row[best]), float(candidates.hours[best])
    for_unit = bool(scores.own[best] > scores.fleet[:, best].sum())
    place = int(scores.own_channel[best]) if for_unit else int(np.argmax(scores.fleet[:, best]))
    name = list(channels)[place]
    to_fleet, to_unit = channels[name].expected_drops()
    before = channels[name].unit_variances()[row] if for_unit else channels[name].fleet_variance()
    drop = to_unit[best] if for_unit else to_fleet[best]
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
        narrower=float(np.sqrt(max(1.0 - drop / before, 0.0))),
        of="unit" if for_unit else "fleet",
        why=why,
    )


def _reason(fit: ChannelFit, hours: float, for_unit: bool, new: bool) -> str:
    """Why this drain: what the log has too little of."""
    low, middle, high = np.exp(np.quantile(fit.drains.log_hours, (0.1, 0.5, 0.9)))
    if for_unit:
        few = "Few drains of this unit are rated" if new else "This unit's hours are known less well than most"
        return f"{few}; one at {hours:g} h tells its own interval."
    if high < 1.25 * low:
        return f"Most drains were at {middle:.3g} h or near it; one at {hours:g} h tells how ratings grow with hours."
    if hours >= high:
        return f"Few drains ran as long as {hours:g} h; a rating there tells where the limit lies."
    if hours <= low:
        return f"Few drains were as early as {hours:g} h; a rating there tells how ratings grow with hours."
    return f"At {hours:g} h a rating of this unit's oil tells most about where the limit lies."
