"""One simulated fleet as flat arrays, fast enough to be drawn thousands of times."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan, Level
from draincurve.pipeline.simulation.rating_process import (
    draw_noise,
    drawn_ratings,
    mean_freshness,
    simulate_unit_effects,
)
from draincurve.pipeline.simulation.service_history import (
    FillLevels,
    FleetLayout,
    drain_days,
    draw_fill_hours,
    draw_layout,
    draw_level_of_each_fill,
    draw_levels,
    is_winter,
    spring_clock,
)
from draincurve.schemas.array_types import Floats, Integers


@dataclass(frozen=True, slots=True)
class FleetArrays:
    """One fleet's drains, sorted by unit and time; shape (drains,) unless said otherwise.

    unit, day (ordinal), spring, oil, rider, surface, site, rater : indices and days
    oil_hours, spring_hours, unit_hours (since the log's start), settle_hours : [h]
    filled_ml, drained_ml : [ml]
    freshness, carry_over : the covariates that the ratings depend on
    part_hours : [h] on the part when the fill began, since the unit's first row
    ratings : channel -> 1..5; predictor : channel -> eta
    effects : channel -> effect of each unit on the scale of the link, shape (units,)
    present : indices of what each unit runs now, shape (units,) each, by term
    """

    layout: FleetLayout
    unit: Integers
    day: Integers
    spring: Integers
    oil: Integers
    rider: Integers
    surface: Integers
    site: Integers
    rater: Integers
    oil_hours: Floats
    spring_hours: Floats
    unit_hours: Floats
    settle_hours: Floats
    filled_ml: Floats
    drained_ml: Floats
    freshness: Floats
    carry_over: Floats
    part_hours: Floats
    ratings: dict[str, Integers]
    predictor: dict[str, Floats]
    effects: dict[str, Floats]
    present: dict[str, Integers]


def simulate_arrays(plan: FleetPlan, rng: np.random.Generator) -> FleetArrays:
    """Draw one fleet from the model, with the plan's departures from it."""
    layout = draw_layout(plan, rng)
    drains = int(layout.drains.max())
    shape = (plan.units, drains)
    effects = _unit_effects(plan, layout, rng=rng)
    levels = draw_levels(plan, layout, fills=drains + 1, rng=rng)
    planned = draw_fill_hours(plan, layout, fills=drains, rng=rng)
    if plan.hours_follow_condition:
        in_sds = effects[plan.channels[-1].channel] / plan.channels[-1].unit_sd
        planned = np.round(planned * np.exp(-plan.hours_follow_condition * in_sds)[:, None], 1)
        planned = np.clip(planned, *plan.hours_range)
    noise = {item.channel: draw_noise(plan.link, shape, rng=rng) for item in plan.channels}
    left = plan.left_behind * np.exp(plan.left_behind_log_sd * rng.standard_normal(shape))
    left = np.minimum(left, 0.6)
    left_before = np.concatenate([np.full((plan.units, 1), plan.left_behind), left[:, :-1]], axis=1)
    carry_over = -np.log1p(-left_before)
    fixed = {
        c.channel: _without_hours(plan, c, levels=levels, layout=layout, effects=effects, carry_over=carry_over)
        for c in plan.channels
    }
    hours = _drained_early(plan, planned, fixed=fixed, noise=noise, rng=rng)

    keep = np.arange(drains)[None, :] >= drains - layout.drains[:, None]
    day = drain_days(plan, hours, layout=layout, rng=rng)
    first_spring = np.round(rng.uniform(0, 3 * plan.fill_hours, plan.units), 1)
    spring_hours = spring_clock(hours, levels.new_spring[:, :-1], first=first_spring)
    fresh = mean_freshness(spring_hours, hours) * layout.spring_in_oil[:, None]
    part_hours = np.cumsum(np.where(keep, hours, 0.0), axis=1) - np.where(keep, hours, 0.0)
    settle = _draw_settling(plan, shape, rng=rng)
    surface = draw_level_of_each_fill(plan.surfaces, shape, rng=rng)
    if plan.winter_surface is not None:
        wet = [level.name for level in plan.surfaces].index(plan.winter_surface)
        surface = np.where(is_winter(day) & (rng.random(shape) < 0.4), wet, surface)
    rater = _draw_raters(plan, layout, shape=shape, rng=rng)
    filled, drained = _draw_volumes(plan, layout, left=left, rng=rng)

    predictor, ratings = {}, {}
    for item in plan.channels:
        bias = np.array([one.bias(item.channel) for one in plan.raters])
        eta = fixed[item.channel] + item.hours_slope * np.log(hours) + item.settle * np.log1p(settle)
        eta = eta + level_effects(plan.surfaces, item)[surface] + bias[rater] + item.run_in * fresh
        eta = eta + item.wear * part_hours / plan.fill_hours
        predictor[item.channel] = eta[keep]
        ratings[item.channel] = drawn_ratings(eta, noise[item.channel], thresholds=item.thresholds)[keep]
    every_unit = np.broadcast_to(np.arange(plan.units)[:, None], shape)
    return FleetArrays(
        layout=layout,
        unit=every_unit[keep],
        day=day[keep],
        spring=levels.spring[:, :-1][keep],
        oil=levels.oil[:, :-1][keep],
        rider=levels.rider[:, :-1][keep],
        surface=surface[keep],
        site=layout.site[every_unit[keep]],
        rater=rater[keep],
        oil_hours=hours[keep],
        spring_hours=np.round(spring_hours[keep], 1),
        unit_hours=np.round(np.cumsum(hours, axis=1)[keep], 1),
        settle_hours=settle[keep],
        filled_ml=filled[keep],
        drained_ml=drained[keep],
        freshness=fresh[keep],
        carry_over=carry_over[keep],
        part_hours=part_hours[keep],
        ratings=ratings,
        predictor=predictor,
        effects=effects,
        present={name: getattr(levels, name)[:, -1] for name in ("spring", "oil", "rider")},
    )


def level_effects(levels: Sequence[Level], channel: ChannelPlan) -> Floats:
    """Coefficient of each level: an hours multiplier m is -slope x log m on the scale of the link."""
    multipliers = np.array([level.multiplier(channel.channel) for level in levels])
    coefficients: Floats = -channel.hours_slope * np.log(multipliers)
    return coefficients


def changepoint_shift(plan: FleetPlan, channel: ChannelPlan, *, columns: int) -> Floats:
    """Change of the linear predictor of changed units in their last fills, shape (units, columns)."""
    shift = np.zeros((plan.units, columns))
    for item in plan.changed:
        shift[item.unit, max(columns - item.last_drains, 0) :] -= channel.hours_slope * np.log(item.hours_ratio)
    return shift


def _unit_effects(plan: FleetPlan, layout: FleetLayout, *, rng: np.random.Generator) -> dict[str, Floats]:
    """Effect of each unit in each channel on the scale of the link, with the effects set by the plan."""
    z = simulate_unit_effects(
        layout.machine,
        len(plan.channels),
        channel_correlation=plan.channel_correlation,
        pair_correlation=plan.pair_correlation,
        tail_df=plan.unit_tail_df,
        rng=rng,
    )
    effects = {item.channel: item.unit_sd * z[i] for i, item in enumerate(plan.channels)}
    for item in plan.channels:
        for planted in plan.planted:
            effects[item.channel][planted.unit] = -item.hours_slope * np.log(planted.hours_ratio)
    return effects


def _without_hours(
    plan: FleetPlan,
    item: ChannelPlan,
    *,
    levels: FillLevels,
    layout: FleetLayout,
    effects: dict[str, Floats],
    carry_over: Floats,
) -> Floats:
    """The linear predictor without the terms that depend on the fill's hours and its drain, shape (units, drains)."""
    # The shocks' spring and oil are one more level each, without an effect.
    spring = np.append(level_effects(plan.springs, item), 0.0)[levels.spring[:, :-1]]
    oil = np.append(level_effects(plan.oils, item), 0.0)[levels.oil[:, :-1]]
    rider = level_effects(plan.riders, item)[levels.rider[:, :-1]]
    site = level_effects(plan.sites, item)[layout.site][:, None]
    unit = effects[item.channel][:, None] + changepoint_shift(plan, item, columns=carry_over.shape[1])
    total: Floats = spring + oil + rider + site + unit + item.carry_over * carry_over
    return total


def _drained_early(
    plan: FleetPlan,
    planned: Floats,
    *,
    fixed: dict[str, Floats],
    noise: dict[str, Floats],
    rng: np.random.Generator,
) -> Floats:
    """Hours with early drains: soon after a channel reached the limit, for the share of fills where it was felt.

    What is felt does not count the wear of the part.
    """
    if plan.early_drain_share == 0:
        return planned
    past = np.full(planned.shape, np.inf)
    for item in plan.channels:
        limit = item.threshold_of(plan.limit_rating)
        reached = np.exp((limit - fixed[item.channel] - noise[item.channel]) / item.hours_slope)
        past = np.minimum(past, reached)
    felt = (past < planned) & (rng.random(planned.shape) < plan.early_drain_share)
    soon = past + (planned - past) * 0.3 * rng.random(planned.shape)
    # At least a tenth of an hour: no drain happens without any riding.
    return np.where(felt, np.clip(np.ceil(soon * 10) / 10, 0.1, planned), planned)


def _draw_settling(plan: FleetPlan, shape: tuple[int, int], *, rng: np.random.Generator) -> Floats:
    """Hours that each sample settled before it was rated [h]."""
    hours = np.array([choice[0] for choice in plan.settle_choices])
    edges = np.cumsum([choice[1] for choice in plan.settle_choices])
    return hours[np.searchsorted(edges[:-1] / edges[-1], rng.random(shape), side="right")]


def _draw_raters(
    plan: FleetPlan, layout: FleetLayout, *, shape: tuple[int, int], rng: np.random.Generator
) -> Integers:
    """Who rated each drain; with `raters_stay_at_site`, rater k works at site k modulo the sites."""
    if not plan.raters_stay_at_site:
        return rng.integers(len(plan.raters), size=shape)
    sites = len(plan.sites)
    at_site = np.array([len(range(site, len(plan.raters), sites)) for site in range(sites)])
    if (at_site == 0).any():
        at_site, sites = np.full(sites, len(plan.raters)), 1
    pick = (rng.random(shape) * at_site[layout.site][:, None]).astype(np.int64)
    at_home: Integers = pick if sites == 1 else layout.site[:, None] + sites * pick
    return at_home


def _draw_volumes(
    plan: FleetPlan, layout: FleetLayout, *, left: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Volumes filled and drained, to 1 ml; the oil left behind is also what is carried over."""
    in_oil = layout.spring_in_oil[:, None]
    nominal: Floats = np.where(in_oil, plan.fill_ml, plan.shock_fill_ml)
    filled = np.round(nominal * (1 + 0.004 * rng.standard_normal(left.shape)))
    return filled, np.round(filled * (1 - left))
