"""Probability of oil past its limit against hours, over the posterior draws, and the hours at a given risk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.bracketed_root import increasing_roots
from draincurve.pipeline.fitting import ChannelFit, link_named, threshold_draws
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Settings

SHORTEST_H = 1e-3
FARTHEST_H = 1e5
"""Hours are never reported under or over these; both are far outside what any shop runs."""

ROWS_AT_ONCE = 512
"""Rows computed together: keeps the working arrays in the processor's cache and the memory bounded."""


@dataclass(frozen=True, slots=True)
class RiskCurves:
    """One channel's risk against hours: P(rating >= limit at h) = 1 - F(threshold - slope log h), one draw at a time.

    threshold : array, shape (units, draws); unit's effect, spring, oil and rider are in it
    slope : array, shape (draws,), positive
    link : "logit", "probit" or "cloglog"
    Raises ContractError where shapes disagree, a value is not finite or a slope is not positive.
    """

    threshold: Floats
    slope: Floats
    link: str

    def __post_init__(self) -> None:
        if self.threshold.ndim != 2 or self.slope.shape != self.threshold.shape[1:] or not self.slope.size:
            raise ContractError(
                f"risk curves: threshold has shape {self.threshold.shape} and slope {self.slope.shape}; "
                "expected (units, draws) and (draws,)"
            )
        if not (np.isfinite(self.threshold).all() and np.isfinite(self.slope).all() and (self.slope > 0).all()):
            raise ContractError("risk curves: thresholds must be finite and slopes finite and over zero")

    @property
    def units(self) -> int:
        """Number of rows."""
        return int(self.threshold.shape[0])

    def rows(self, chosen: Indices) -> RiskCurves:
        """The curves of some rows only."""
        return RiskCurves(self.threshold[chosen], self.slope, self.link)


def risk_curves(
    fits: Mapping[str, ChannelFit], rows: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> dict[str, RiskCurves]:
    """Channel to curves with rows as those of the frame; empty without rows.

    rows : unit_key and the columns of the fits' terms, with the conditions of the fill now running.
    """
    return {
        channel: RiskCurves(
            threshold_draws(fit, rows, limit=settings.limit_rating(channel), priors=settings.priors, rng=rng),
            fit.hours_slope,
            settings.link,
        )
        for channel, fit in fits.items()
        if rows.height
    }


def risk_and_growth(curves: RiskCurves, rows: Indices, log_hours: Floats) -> tuple[Floats, Floats]:
    """Posterior predictive risk and its growth over log hours, for the given rows at one point each.

    rows, log_hours : arrays, shape (m,); log of [h]. Returns two arrays, shape (m,).
    """
    link = link_named(curves.link)
    risk, growth = np.empty(rows.size), np.empty(rows.size)
    for begin in range(0, rows.size, ROWS_AT_ONCE):
        part = slice(begin, begin + ROWS_AT_ONCE)
        distance = curves.threshold[rows[part]] - curves.slope * log_hours[part, None]
        risk[part] = link.survival(distance).mean(axis=1)
        growth[part] = link.pdf(distance) @ curves.slope / curves.slope.size
    return np.clip(risk, 0.0, 1.0), growth


def risk_at(curves: RiskCurves, hours: Floats) -> Floats:
    """Posterior predictive P(rating >= limit) of every unit at its own hours.

    hours : array, shape (units,) [h]; zero hours carry no risk, NaN (unknown) stays NaN. Returns shape
    (units,).
    """
    risk = np.where(np.isnan(hours), np.nan, 0.0)
    run = np.flatnonzero(hours > 0)
    link = link_named(curves.link)
    for begin in range(0, run.size, ROWS_AT_ONCE):
        part = run[begin : begin + ROWS_AT_ONCE]
        distance = curves.threshold[part] - curves.slope * np.log(hours[part])[:, None]
        risk[part] = link.survival(distance).mean(axis=1)
    return risk


def risk_interval(curves: RiskCurves, accepted_risk: float) -> Floats:
    """Largest hours at which the posterior predictive risk is at most the accepted risk.

    Exact root, within SHORTEST_H and FARTHEST_H. The search runs on the log odds of the risk, which are
    almost straight in log hours, between the earliest and the latest hours that any single draw gives.
    Returns array, shape (units,) [h].
    """
    wanted = _log_odds(np.array([accepted_risk]))[0]
    log_hours = _log_hours_by_draw(curves, accepted_risk)
    ends = np.log(SHORTEST_H), np.log(FARTHEST_H)
    low = np.clip(log_hours.min(axis=1), *ends)
    high = np.clip(log_hours.max(axis=1), *ends)

    def odds_left(rows: Indices, at: Floats) -> tuple[Floats, Floats]:
        risk, growth = risk_and_growth(curves, rows, at)
        with np.errstate(divide="ignore", invalid="ignore"):
            return _log_odds(risk) - wanted, growth / (risk * (1.0 - risk))

    return np.exp(increasing_roots(odds_left, low, high, log_hours.mean(axis=1)))


def hours_points(curves: RiskCurves, accepted_risk: float, points: Sequence[float] = (0.05, 0.95)) -> Floats:
    """Posterior points of the hours at which the risk reaches the accepted risk: closed form per draw.

    Returns array, shape (units, points) [h], ascending where the points are.
    """
    found = np.empty((curves.units, len(points)))
    for begin in range(0, curves.units, ROWS_AT_ONCE):
        part = np.arange(begin, min(begin + ROWS_AT_ONCE, curves.units), dtype=np.intp)
        log_hours = _log_hours_by_draw(curves.rows(part), accepted_risk)
        found[part] = np.quantile(log_hours, points, axis=1).T
    return np.exp(np.clip(found, np.log(SHORTEST_H), np.log(FARTHEST_H)))


def _log_hours_by_draw(curves: RiskCurves, risk: float) -> Floats:
    """Log hours at which each draw alone reaches a risk, shape (units, draws)."""
    distance = link_named(curves.link).quantile(np.array([1.0 - risk]))
    by_draw: Floats = (curves.threshold - distance[0]) / curves.slope
    return by_draw


def _log_odds(share: Floats) -> Floats:
    """Log odds, infinite at 0 and 1."""
    with np.errstate(divide="ignore"):
        odds: Floats = np.log(share) - np.log1p(-share)
    return odds
