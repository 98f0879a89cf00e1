"""The cheapest interval, where the shop has set what a change and a late change cost.

Oil does not announce that it is past fit: the drain finds out. So a fill always runs its whole interval h,
the change is paid every time and the late cost where the drain finds the limit passed. By the renewal
reward theorem the cost per hour is

    C(h) = (change + late P(past limit at h)) / h                 [currency per h]

The classical age replacement (Barlow & Hunter 1960) has the same numerator over the mean time to change,
because there a failure announces itself and ends the fill early. The two agree where the risk is small.

C(h) falls to zero for endless h, since a late fill pays its late cost once however long it runs; that is a
blind spot of the cost, not advice. The answer is therefore the first h at which C stops falling:

    h p(h) - P(h) = change / late,      p the density of the hours to the limit.

Where the hazard does not rise the left side is never positive, and there is no such h; nor is there one
where a late change costs too little for the rise in risk to pay for a change. Reference: Ross (1996),
Stochastic Processes, 2nd ed., ch. 3.6 (renewal reward).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from draincurve.pipeline.deciding.bracketed_root import increasing_roots
from draincurve.pipeline.deciding.oil_curves import OilCurves, log_hours_bounds, risk_and_growth
from draincurve.pipeline.deciding.unit_risk import FARTHEST_H, SHORTEST_H
from draincurve.schemas.array_types import Booleans, Floats, Indices

GRID_POINTS = 25
_STEP = 1e-4
"""Step in log hours for the second difference of the risk, which only guides the search."""

FINER_ROUNDS = 2

GRID_DRAWS = 125
"""Draws that search for the bracket; all draws are used to solve inside it."""

NEAR = 0.8
"""Highest lead, relative to the target, under which some of the draws may show that nothing crosses."""


class NoOptimum(StrEnum):
    """Why a unit has no cheapest interval."""

    FOUND = ""
    RISK_DOES_NOT_RISE = "no interval is cheapest: the risk does not rise with hours"
    LATE_TOO_CHEAP = "no interval is cheapest: a late change costs too little against a change on time"


@dataclass(frozen=True, slots=True)
class CostIntervals:
    """Cheapest hours of every unit, infinite where there is no optimum, and why not.

    hours : array, shape (units,) [h];  cost_per_hour : array, shape (units,), zero where there is no optimum
    why_none : one NoOptimum for every unit
    """

    hours: Floats
    cost_per_hour: Floats
    why_none: tuple[NoOptimum, ...]


def cost_interval(curves: OilCurves, change: float, late: float) -> CostIntervals:
    """First hours at which the cost per hour stops falling, for every unit.

    change, late : costs of a change and of finding the oil past its limit, same currency, both over zero.
    Searched on a grid of log hours, made finer twice about its highest point, then solved exactly.
    """
    wanted = change / late
    rows = np.arange(curves.units, dtype=np.intp)
    low, high, best = _brackets(curves, wanted)
    bracketed = rows[np.isfinite(high)]

    def excess(open_rows: Indices, log_hour: Floats) -> tuple[Floats, Floats]:
        lead, lead_slope, _ = _lead(curves, bracketed[open_rows], log_hour)
        return lead - wanted, lead_slope

    log_hours = np.full(curves.units, np.inf)
    log_hours[bracketed] = increasing_roots(
        excess, low[bracketed], high[bracketed], (low[bracketed] + high[bracketed]) / 2
    )
    cost = np.zeros(curves.units)
    if bracketed.size:
        risk = _lead(curves, bracketed, log_hours[bracketed])[2]
        cost[bracketed] = (change + late * risk) / np.exp(log_hours[bracketed])
    why = tuple(_reason(hours, top) for hours, top in zip(log_hours, best, strict=True))
    return CostIntervals(np.exp(log_hours), cost, why)


def _reason(log_hours: float, highest_lead: float) -> NoOptimum:
    if np.isfinite(log_hours):
        return NoOptimum.FOUND
    return NoOptimum.LATE_TOO_CHEAP if highest_lead > 0 else NoOptimum.RISK_DOES_NOT_RISE


def _lead(curves: OilCurves, rows: Indices, log_hours: Floats) -> tuple[Floats, Floats, Floats]:
    """h p(h) - P(h), its growth over log hours, and P(h); arrays, shape (m,)."""
    risk, rise = risk_and_growth(curves, rows, log_hours)
    ahead, behind = (risk_and_growth(curves, rows, log_hours + step)[1] for step in (_STEP, -_STEP))
    return rise - risk, (ahead - behind) / (2 * _STEP) - rise, risk


def _brackets(curves: OilCurves, wanted: float) -> tuple[Floats, Floats, Floats]:
    """Log hours on both sides of the first up-crossing (high infinite where there is none), and the highest lead.

    A share of the draws finds the bracket; all draws confirm it, and search again wherever they disagree or where
    the highest lead comes near what is wanted.
    """
    stride = -(-curves.draws // GRID_DRAWS)
    low, high, best = _search(curves.every(stride), wanted)
    if stride > 1:
        again = np.flatnonzero(~_confirmed(curves, wanted, low, high, best))
        if again.size:
            low[again], high[again], best[again] = _search(curves.rows(again), wanted)
    return low, high, best


def _confirmed(curves: OilCurves, wanted: float, low: Floats, high: Floats, best: Floats) -> Booleans:
    """Whether all draws agree with a bracket that some of them gave."""
    bracketed = np.flatnonzero(np.isfinite(high)).astype(np.intp)
    sure = best < NEAR * wanted
    for ends, side in ((low, -1.0), (high, 1.0)):
        risk, rise = risk_and_growth(curves, bracketed, ends[bracketed])
        agrees = side * (rise - risk - wanted) >= 0
        sure[bracketed] = agrees if side < 0 else sure[bracketed] & agrees
    return sure


def _search(curves: OilCurves, wanted: float) -> tuple[Floats, Floats, Floats]:
    """As `_brackets`, on a grid of log hours that is made finer about the highest lead where nothing crosses."""
    ends = np.log(SHORTEST_H), np.log(FARTHEST_H)
    early, late = log_hours_bounds(curves, 1e-4)[0], log_hours_bounds(curves, 0.95)[1]
    first = np.clip(np.quantile(early, 0.02, axis=1), *ends)
    last = np.clip(np.quantile(late, 0.98, axis=1), *ends)
    low, high, best = _on_grid(curves, wanted, np.linspace(first, last, GRID_POINTS, axis=1))
    for _ in range(FINER_ROUNDS):
        again = np.flatnonzero(~np.isfinite(high) & (best > 0))
        if not again.size:
            break
        peak, width = low[again], (last - first)[again] / (GRID_POINTS - 1)
        grid = np.linspace(peak - width, peak + width, GRID_POINTS, axis=1)
        low[again], high[again], top = _on_grid(curves.rows(again), wanted, grid)
        best[again] = np.maximum(best[again], top)
        first[again], last[again] = peak - width, peak + width
    return low, high, best


def _on_grid(curves: OilCurves, wanted: float, grid: Floats) -> tuple[Floats, Floats, Floats]:
    """Grid points about the first up-crossing; without one `low` is at the highest lead, `high` infinite."""
    rows: Indices = np.arange(curves.units, dtype=np.intp)
    lead = np.empty(grid.shape)
    for j in range(grid.shape[1]):
        risk, rise = risk_and_growth(curves, rows, grid[:, j])
        lead[:, j] = rise - risk
    crossing = (lead > wanted).argmax(axis=1)
    has = (lead > wanted).any(axis=1)
    before = np.where(has, np.maximum(crossing - 1, 0), lead.argmax(axis=1))
    low = np.where(has & (crossing == 0), np.log(SHORTEST_H), grid[rows, before])
    high = np.where(has, grid[rows, crossing], np.inf)
    return low, high, lead.max(axis=1)
