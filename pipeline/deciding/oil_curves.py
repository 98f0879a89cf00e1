"""Risk of the oil against hours, the hours at a given risk, and each channel's share of it.

Oil is past fit when any channel is. Of one channel the oil's risk is the channel's own; of two that are joined it is

    p + q - P(both),    P(both) by Plackett's distribution (pipeline/fitting/joint/plackett.py),

under each draw; else channels count as independent given the draw, which overstates the risk where they agree.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from numba import prange

from draincurve.pipeline.deciding.bracketed_root import increasing_roots
from draincurve.pipeline.deciding.unit_risk import FARTHEST_H, ROWS_AT_ONCE, SHORTEST_H, RiskCurves
from draincurve.pipeline.fitting import (
    OilFit,
    both_past,
    by_first_margin,
    compiled_loop,
    joint_distribution,
    joint_effect_draws,
    link_named,
    threshold_draws,
)
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Settings

LEAST_RISK_SHARE = 0.25
"""A channel with less than this share of the risk is not named as the reason why a unit is fast."""

_NEWTON_STEPS, _NEWTON_TOLERANCE = 40, 1e-10


@dataclass(frozen=True, slots=True)
class OilCurves:
    """Curves of every channel, with the same rows and draws, and their association.

    channels : by name; log_odds_ratio : (S,) of a drain's two ratings, None where channels are not joined.
    Raises ContractError where numbers of rows or draws differ, or other than two channels are joined.
    """

    channels: Mapping[str, RiskCurves]
    log_odds_ratio: Floats | None = None

    def __post_init__(self) -> None:
        shapes = {curve.threshold.shape for curve in self.channels.values()}
        joined = self.log_odds_ratio is not None
        if len(shapes) > 1 or (joined and len(self.channels) != 2):
            raise ContractError(f"oil curves: {len(self.channels)} channels of shapes {sorted(shapes)}; expected one")

    @property
    def units(self) -> int:
        """Number of rows; 0 without a channel."""
        return next((curve.units for curve in self.channels.values()), 0)

    @property
    def draws(self) -> int:
        """Number of draws."""
        return next((curve.slope.size for curve in self.channels.values()), 0)

    def rows(self, chosen: Indices) -> OilCurves:
        """The curves of some rows only."""
        return OilCurves({name: curve.rows(chosen) for name, curve in self.channels.items()}, self.log_odds_ratio)

    def every(self, stride: int) -> OilCurves:
        """The curves with every n-th draw only."""
        thinned = {
            name: RiskCurves(curve.threshold[:, ::stride], curve.slope[::stride], curve.link)
            for name, curve in self.channels.items()
        }
        return OilCurves(thinned, None if self.log_odds_ratio is None else self.log_odds_ratio[::stride])


@dataclass(frozen=True, slots=True)
class UnitDraws:
    """Units' curves, with draws of their log hours at the accepted risk and of their hours ratios, (rows, S) each.

    channels : the one that says most about each unit
    """

    curves: OilCurves
    log_hours: Floats
    ratios: Floats
    channels: list[str]


def oil_curves(
    oil: OilFit,
    rows: pl.DataFrame,
    settings: Settings,
    rng: np.random.Generator,
    *,
    effects: Mapping[str, Floats] | None = None,
) -> OilCurves:
    """Curves with rows as those of the frame.

    rows : unit_key and the columns of the fits' terms, with the conditions of the fill now running; effects : by
    channel, (rows, S), the units' effects in sd, drawn here by default
    """
    if not rows.height:
        return OilCurves({})
    if effects is None:
        effects = joint_effect_draws(oil.fits, oil.joint, rows["unit_key"].to_list(), rng=rng)
    curves = {}
    for channel, fit in oil.fits.items():
        limit, unit_effects = settings.limit_rating(channel), effects[channel]
        thresholds = threshold_draws(fit, rows, limit=limit, priors=settings.priors, rng=rng, effects=unit_effects)
        curves[channel] = RiskCurves(thresholds, fit.hours_slope, settings.link)
    return OilCurves(curves, None if oil.joint is None else oil.joint.association.log_odds_ratio)


def unit_draws(oil: OilFit, rows: pl.DataFrame, settings: Settings, rng: np.random.Generator) -> UnitDraws:
    """Curves and hours ratios of units; rows as in `oil_curves`.

    The ratio is that of the hours at the accepted risk, over those with the unit's own effects at zero. The channel
    is the one in which the unit's own ratio is smallest, among those with at least LEAST_RISK_SHARE of the risk.
    """
    effects = joint_effect_draws(oil.fits, oil.joint, rows["unit_key"].to_list(), rng=rng)
    curves = oil_curves(oil, rows, settings, rng, effects=effects)
    shifts = {channel: fit.unit_sd * effects[channel] for channel, fit in oil.fits.items()}
    typical = OilCurves(
        {
            channel: RiskCurves(curve.threshold + shifts[channel], curve.slope, curve.link)
            for channel, curve in curves.channels.items()
        },
        curves.log_odds_ratio,
    )
    hours = [log_hours_by_draw(draws_of, settings.accepted_risk) for draws_of in (curves, typical)]
    risks = channel_risks(curves, np.exp(np.median(hours[0], axis=1)))
    shares = np.array(list(risks.values())) / np.sum(list(risks.values()), axis=0)
    median_hours = [np.median(-shifts[channel] / curve.slope, axis=1) for channel, curve in curves.channels.items()]
    smallest = np.argmin(np.where(shares >= LEAST_RISK_SHARE, median_hours, np.inf), axis=0)
    return UnitDraws(curves, hours[0], np.exp(hours[0] - hours[1]), [list(risks)[index] for index in smallest])


def channel_risks(curves: OilCurves, hours: Floats) -> dict[str, Floats]:
    """Each channel's own mean risk of every row at its hours, (rows,); NaN at unknown hours."""
    return {name: risk_at(OilCurves({name: curve}), hours) for name, curve in curves.channels.items()}


def both_risks(curves: OilCurves, hours: Floats) -> Floats:
    """Mean risk that both of two joined channels are past their limits, (rows,); NaN where they are not joined."""
    if curves.log_odds_ratio is None:
        return np.full(hours.shape, np.nan)
    log_hours = np.log(np.where(hours > 0, hours, np.nan))[:, None]
    p, q = (
        link_named(curve.link).survival(curve.threshold - curve.slope * log_hours)
        for curve in curves.channels.values()
    )
    both: Floats = both_past(p, q, curves.log_odds_ratio).mean(axis=1)
    return np.where(hours == 0, 0.0, both)


def risk_and_growth(curves: OilCurves, rows: Indices, log_hours: Floats) -> tuple[Floats, Floats]:
    """Posterior predictive risk and its growth over log hours, for the given rows at one point each.

    rows, log_hours : arrays, shape (m,); log of [h]. Returns two arrays, shape (m,).
    """
    risk, growth = np.empty(rows.size), np.empty(rows.size)
    for begin in range(0, rows.size, ROWS_AT_ONCE):
        part = slice(begin, begin + ROWS_AT_ONCE)
        by_draw = risk_by_draw(curves.rows(rows[part]), log_hours[part, None])
        risk[part], growth[part] = (values.mean(axis=1) for values in by_draw)
    return np.clip(risk, 0.0, 1.0), growth


def risk_at(curves: OilCurves, hours: Floats) -> Floats:
    """Posterior predictive risk of every row at its own hours.

    hours : array, shape (rows,) [h]; zero hours carry no risk, NaN (unknown) stays NaN. Returns shape (rows,).
    """
    risk = np.where(np.isnan(hours), np.nan, 0.0)
    run = np.flatnonzero(hours > 0)
    risk[run] = risk_and_growth(curves, run, np.log(hours[run]))[0]
    return risk


def risk_interval(curves: OilCurves, accepted_risk: float) -> Floats:
    """Largest hours at which the posterior predictive risk is at most the accepted risk.

    Exact root, within SHORTEST_H and FARTHEST_H. The search runs on the log odds of the risk, which are almost
    straight in log hours, between the earliest and the latest hours that any single draw gives. Returns array,
    shape (rows,) [h].
    """
    wanted = _log_odds(np.array([accepted_risk]))[0]
    earliest, latest = log_hours_bounds(curves, accepted_risk)
    low, high = (np.clip(ends, np.log(SHORTEST_H), np.log(FARTHEST_H)) for ends in (earliest.min(1), latest.max(1)))

    def odds_left(rows: Indices, log_hours: Floats) -> tuple[Floats, Floats]:
        risk, growth = risk_and_growth(curves, rows, log_hours)
        with np.errstate(divide="ignore", invalid="ignore"):
            return _log_odds(risk) - wanted, growth / (risk * (1.0 - risk))

    return np.exp(increasing_roots(odds_left, low, high, (earliest.mean(axis=1) + latest.mean(axis=1)) / 2))


def hours_points(
    curves: OilCurves,
    accepted_risk: float,
    points: Sequence[float] = (0.05, 0.95),
    *,
    log_hours: Floats | None = None,
) -> Floats:
    """Posterior points of the hours at which the risk reaches the accepted risk, (rows, points) [h].

    log_hours : what `log_hours_by_draw` gives, (rows, draws), where it was computed
    """
    quantiles = np.empty((curves.units, len(points)))
    for begin in range(0, curves.units, ROWS_AT_ONCE):
        rows = np.arange(begin, min(begin + ROWS_AT_ONCE, curves.units), dtype=np.intp)
        draws = log_hours_by_draw(curves.rows(rows), accepted_risk) if log_hours is None else log_hours[rows]
        quantiles[rows] = np.quantile(draws, points, axis=1).T
    return np.exp(np.clip(quantiles, np.log(SHORTEST_H), np.log(FARTHEST_H)))


def log_hours_by_draw(curves: OilCurves, risk: float) -> Floats:
    """Log hours at which each draw alone reaches a risk, (rows, draws): closed form for one channel, else a root."""
    low, high = log_hours_bounds(curves, risk)
    if len(curves.channels) == 1:
        return high
    wanted = _log_odds(np.array([risk]))[0]
    log_hours = (low + high) / 2
    for _ in range(_NEWTON_STEPS):
        share, growth = risk_by_draw(curves, log_hours)
        with np.errstate(divide="ignore", invalid="ignore"):
            over = _log_odds(share) - wanted
            following = log_hours - over * share * (1.0 - share) / growth
        low, high = np.where(over < 0, log_hours, low), np.where(over < 0, high, log_hours)
        outside = ~((following >= low) & (following <= high))
        following = np.where(outside, (low + high) / 2, following)
        moved = np.max(np.abs(following - log_hours), initial=0.0)
        log_hours = following
        if moved < _NEWTON_TOLERANCE:
            break
    return log_hours


def log_hours_bounds(curves: OilCurves, risk: float) -> tuple[Floats, Floats]:
    """Log hours before and after each draw reaches a risk, whatever joins the channels; (rows, draws) each.

    Any channel past its limit is at least as likely as each, and at most as all together (Boole's inequality).
    """
    ends = []
    for share in (risk / len(curves.channels), risk):
        by_channel = [
            (curve.threshold - link_named(curve.link).quantile(np.array([1.0 - share]))[0]) / curve.slope
            for curve in curves.channels.values()
        ]
        ends.append(np.min(by_channel, axis=0))
    return ends[0], ends[1]


def risk_by_draw(curves: OilCurves, log_hours: Floats) -> tuple[Floats, Floats]:
    """Risk and its growth over log hours under each draw, (rows, draws) each.

    log_hours : (rows, 1) or (rows, draws)
    """
    parts = []
    for curve in curves.channels.values():
        risk, density = link_named(curve.link).survival_and_pdf(curve.threshold - curve.slope * log_hours)
        parts.append((risk, density * curve.slope))
    if len(parts) == 1:
        return parts[0]
    if curves.log_odds_ratio is not None:
        (p, p_growth), (q, q_growth) = parts
        return _joined(p, p_growth, q, q_growth, np.exp(curves.log_odds_ratio))
    fit: Floats = np.prod([1.0 - risk for risk, _ in parts], axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        growth = fit * np.sum([np.where(risk < 1, rise / (1.0 - risk), 0.0) for risk, rise in parts], axis=0)
    return 1.0 - fit, growth


@compiled_loop
def _joined(p: Floats, p_growth: Floats, q: Floats, q_growth: Floats, odds_ratio: Floats) -> tuple[Floats, Floats]:
    """Risk that either is past its limit, and its growth, of two channels' own, (rows, draws)."""
    risk, growth = np.empty(p.shape), np.empty(p.shape)
    for row in prange(p.shape[0]):
        for draw in range(p.shape[1]):
            a, b, odds = p[row, draw], q[row, draw], odds_ratio[draw]
            risk[row, draw] = a + b - joint_distribution(a, b, odds)
            growth[row, draw] = (1.0 - by_first_margin(a, b, odds)) * p_growth[row, draw]
            growth[row, draw] += (1.0 - by_first_margin(b, a, odds)) * q_growth[row, draw]
    return risk, growth


def _log_odds(share: Floats) -> Floats:
    """Log odds, infinite at 0 and 1."""
    with np.errstate(divide="ignore"):
        odds: Floats = np.log(share) - np.log1p(-share)
    return odds
