"""One simulated fleet through the program's own functions, scored against its truth."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.deciding.caps import data_range_limit, round_down
from draincurve.pipeline.deciding.oil_curves import hours_points, risk_interval, unit_draws
from draincurve.pipeline.deciding.unit_risk import FARTHEST_H, SHORTEST_H
from draincurve.pipeline.describing.fleet_state import longest_fill
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.judging.standing import fleet_standings, ratio_standings
from draincurve.pipeline.simulation.fleet_arrays import simulate_arrays
from draincurve.schemas.array_types import Booleans, Floats
from draincurve.schemas.next_service_table import FASTER
from draincurve.schemas.settings import Settings
from tests.calibration.shop_frames import (
    CHANNEL,
    accepted_drains,
    channel_of,
    state_of,
    true_log_hours,
    true_risk,
    true_thresholds,
)
from tests.calibration.truths import Shop

LEVELS = (0.5, 0.8, 0.9)
_SLACK = 1e-9  # of log hours: what exp and log leave of an end that both share


@dataclass(frozen=True)
class FleetScore:
    """What one fleet gave.

    inside : (levels,), share of units whose true hours at the accepted risk lie in the interval; safe : share whose
    true hours are over the 10 % point (one-sided 90 % bound); risk, risk_kept : mean true risk at the recommended
    hours, before and after cap and rounding; called, wrong, fast, found : counts of units.
    """

    drains: int
    inside: Floats
    safe: float
    risk: float
    risk_kept: float
    called: int
    wrong: int
    fast: int
    found: int
    effective: float
    shape: float
    rounds: int
    trusted: bool
    seconds: float


def scored(shop: Shop, settings: Settings, rng: np.random.Generator) -> FleetScore:
    """Simulate, describe, fit, decide and judge one fleet."""
    plan = shop.plan
    arrays = simulate_arrays(plan, rng)
    drains = accepted_drains(
        plan, arrays, bare=shop.bare, raters_logged=shop.raters_logged, two_ratings=shop.two_ratings
    )
    state = state_of(drains, plan)
    begin = time.perf_counter()
    fit = fit_channel(describe_channel(drains, CHANNEL), settings, rng=rng)
    seconds = time.perf_counter() - begin
    assert isinstance(fit, ChannelFit), fit
    drawn = unit_draws(OilFit({CHANNEL: fit}, None), state, settings, rng)
    truth = true_thresholds(plan, arrays, state)
    # Points are never reported beyond these ends, so the truth is held to them too.
    hours = np.clip(true_log_hours(plan, truth), np.log(SHORTEST_H), np.log(FARTHEST_H))
    tails = np.concatenate([[(1 - level) / 2, (1 + level) / 2] for level in LEVELS])
    points = np.log(hours_points(drawn.curves, settings.accepted_risk, (*tails, 0.1)))
    low, high = points[:, 0:-1:2].T - _SLACK, points[:, 1:-1:2].T + _SLACK
    recommended = risk_interval(drawn.curves, settings.accepted_risk)
    cap = data_range_limit(state["spring_type"], longest_fill(drains), settings.data_range_factor)
    kept = round_down(np.minimum(recommended, cap), settings.step_h)
    called = _called(fit, state["unit_key"].to_list(), drawn.ratios, settings)
    fast = np.exp(-arrays.effects[CHANNEL] / channel_of(plan).hours_slope) <= settings.standing.ratio
    posterior = fit.posterior
    return FleetScore(
        drains=plan.drains // plan.units,
        inside=np.mean((low <= hours) & (hours <= high), axis=1),
        safe=float(np.mean(hours >= points[:, -1] - _SLACK)),
        risk=float(np.mean(true_risk(plan, truth, recommended))),
        risk_kept=float(np.mean(true_risk(plan, truth, kept))),
        called=int(np.sum(called)),
        wrong=int(np.sum(called & ~fast)),
        fast=int(np.sum(fast)),
        found=int(np.sum(called & fast)),
        effective=posterior.effective_sample_size or float("nan"),
        shape=posterior.pareto_shape or float("nan"),
        rounds=posterior.rounds,
        trusted=bool(posterior.trusted and fit.fit.converged),
        seconds=seconds,
    )


def _called(fit: ChannelFit, keys: list[str], ratios: Floats, settings: Settings) -> Booleans:
    """Units called faster than the fleet, in order of key."""
    rated = np.append(fit.rated, 0)[fit.unit_index(keys)]
    units = ratio_standings(keys, ratios, channels=[CHANNEL] * len(keys), rated=rated, rule=settings.standing)
    table = fleet_standings(units, settings.standing)
    standing = dict(zip(table["unit_key"], table["standing"], strict=True))
    return np.array([standing[key] == FASTER for key in keys])
