"""The truth of an invented fleet: what an ideal fit would find, as plain values for a JSON file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from draincurve.pipeline.simulation.fleet_arrays import FleetArrays, changepoint_shift, level_effects
from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan
from draincurve.pipeline.simulation.rating_process import hours_at_risk, oil_hours_at_risk
from draincurve.schemas.array_types import Floats

FASTER_RATIO = 0.8
"""Hours ratio at or under which a unit truly counts as faster than the fleet."""

SCALE = (
    "P(rating >= k) = F(hours_slope x log(oil_hours / 1 h) + coefficients + unit effect - thresholds[k - 2]); "
    "coefficients of each term sum to zero over the levels listed (shocks' own spring and oil stand apart, at "
    "their distance from the forks' average); settling enters as log(1 + settle_hours), run_in as the mean of "
    "exp(-spring_hours / 5 h) over the fill, carry_over as -log(1 - share left behind at the drain before)"
)
BASIS = (
    "hours at the accepted risk of a rating at or over the limit, on any channel for the unit's own: present spring, "
    "oil, rider and site, average surface and rater, standard settling time, springs run in, the fleet's usual share "
    "of old oil left behind"
)


def fleet_truth(plan: FleetPlan, arrays: FleetArrays, *, unit_ids: Sequence[str]) -> dict[str, Any]:
    """True curve of each channel and true hours of each unit; rounded so that it writes the same everywhere."""
    channels = {item.channel: _channel_truth(plan, item) for item in plan.channels}
    units: dict[str, dict[str, Any]] = {unit: {} for unit in unit_ids}
    by_channel = [true_hours_at_risk(plan, item, arrays=arrays) for item in plan.channels]
    for item, hours in zip(plan.channels, by_channel, strict=True):
        effect = present_effects(plan, item, arrays=arrays)
        for index, unit in enumerate(unit_ids):
            units[unit][item.channel] = {
                "effect": round(float(effect[index]), 4),
                "hours_ratio": round(float(np.exp(-effect[index] / item.hours_slope)), 4),
                "hours_at_risk": round(float(hours[index]), 3),
            }
    names = [item.channel for item in plan.channels]
    slopes = [item.hours_slope for item in plan.channels]
    of_oil = oil_hours_at_risk(plan.link, plan.accepted_risk, by_channel, hours_slopes=slopes)
    for entry, hours_of_oil in zip(units.values(), of_oil.tolist(), strict=True):
        entry["hours_at_risk"] = round(hours_of_oil, 3)
    return {
        "scenario": plan.name,
        "as_of": plan.as_of.isoformat(),
        "link": plan.link,
        "limit_rating": plan.limit_rating,
        "accepted_risk": plan.accepted_risk,
        "standard_settle_hours": plan.standard_settle_hours,
        "scale": SCALE,
        "hours_at_risk_basis": BASIS,
        "channels": channels,
        "units": units,
        "faster_units": _faster(units, names, over=any),
        "faster_units_in_every_channel": _faster(units, names, over=all),
        "planted_units": [unit_ids[item.unit] for item in plan.planted],
        "turned_units": [unit_ids[item.unit] for item in plan.changed],
        "inspect_now": {unit_ids[item.unit]: item.sign for item in plan.signs},
    }


def present_effects(plan: FleetPlan, channel: ChannelPlan, *, arrays: FleetArrays) -> Floats:
    """Present effect of each unit, shape (units,): its own, plus its change if it has changed."""
    last_column = max((item.last_drains for item in plan.changed), default=1)
    return arrays.effects[channel.channel] + changepoint_shift(plan, channel, columns=last_column)[:, -1]


def true_hours_at_risk(plan: FleetPlan, channel: ChannelPlan, *, arrays: FleetArrays) -> Floats:
    """True hours [h] of each unit at the accepted risk, shape (units,), under the conditions in BASIS."""
    present = arrays.present
    rest = (
        np.append(level_effects(plan.springs, channel), 0.0)[present["spring"]]
        + np.append(level_effects(plan.oils, channel), 0.0)[present["oil"]]
        + level_effects(plan.riders, channel)[present["rider"]]
        + level_effects(plan.sites, channel)[arrays.layout.site]
        + level_effects(plan.surfaces, channel).mean()
        + np.mean([rater.bias(channel.channel) for rater in plan.raters])
        + channel.settle * np.log1p(plan.standard_settle_hours)
        + channel.carry_over * -np.log1p(-plan.left_behind)
        + present_effects(plan, channel, arrays=arrays)
    )
    threshold = channel.threshold_of(plan.limit_rating)
    return hours_at_risk(
        plan.link, plan.accepted_risk, threshold=threshold, hours_slope=channel.hours_slope, rest=rest
    )


def _channel_truth(plan: FleetPlan, channel: ChannelPlan) -> dict[str, Any]:
    """Thresholds that include every term's average, and the coefficients about the averages."""
    terms = {
        "spring_type": plan.springs,
        "oil_grade": plan.oils,
        "rider": plan.riders,
        "surface": plan.surfaces,
        "site": plan.sites,
    }
    effects = {
        name: dict(zip([level.name for level in levels], level_effects(levels, channel), strict=True))
        for name, levels in terms.items()
    }
    effects["rated_by"] = {rater.name: rater.bias(channel.channel) for rater in plan.raters}
    averages = {name: float(np.mean(list(levels.values()))) for name, levels in effects.items()}
    if plan.shocks:
        effects["spring_type"][plan.shock_spring] = 0.0
        effects["oil_grade"][plan.shock_oil] = 0.0
    coefficients = {
        name: {level: round(float(value) - averages[name], 4) + 0.0 for level, value in levels.items()}
        for name, levels in effects.items()
    }
    return {
        "thresholds": [round(threshold - sum(averages.values()), 4) for threshold in channel.thresholds],
        "hours_slope": channel.hours_slope,
        "unit_sd": channel.unit_sd,
        "coefficients": coefficients,
        "settle": channel.settle,
        "run_in": channel.run_in,
        "carry_over": channel.carry_over,
        "spring_hours_multipliers": {level.name: level.multiplier(channel.channel) for level in plan.springs},
    }


def _faster(units: dict[str, dict[str, Any]], names: list[str], *, over: Any) -> list[str]:
    """Units whose true hours ratio is at or under FASTER_RATIO in any or in every channel."""
    return [
        unit for unit, entry in units.items() if over(entry[name]["hours_ratio"] <= FASTER_RATIO for name in names)
    ]
