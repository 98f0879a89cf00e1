"""Every unit's standing, interval and risk: all at once, or in a large fleet block by block.

A block's unit effects are drawn once and serve both its standings and its intervals. Blocks follow from the order of
the units and have random numbers of their own, so the place and order of their computation do not matter.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.intervals import DecidedIntervals, decide_intervals, shorter_intervals
from draincurve.pipeline.deciding.unit_risk import RiskCurves, risk_at, risk_curves
from draincurve.pipeline.fitting import HERE, ChannelFit, Engine, threshold_draws, unit_effect_draws
from draincurve.pipeline.judging import channel_standings, effect_standings, fleet_standings, no_standings
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.settings import Settings

Curves = Mapping[str, RiskCurves]


@dataclass(frozen=True, slots=True)
class DecidedUnits:
    """Rows of units, with their intervals and the larger of the channels' risks at the hours now, (n,)."""

    intervals: DecidedIntervals
    risk_now: Floats


@dataclass(frozen=True, slots=True)
class ScoredUnits:
    """All units: standings as `fleet_standings` gives them; in order, decisions, and curves where all are at hand."""

    standings: pl.DataFrame
    decided: DecidedUnits
    curves: Curves | None


@dataclass(frozen=True, slots=True)
class UnitBlock:
    """What scoring some units takes: fits with their ratings only, their rows, caps and hours as in `score_units`.

    number : the block's, by which its random numbers are drawn.
    """

    number: int
    fits: Mapping[str, ChannelFit]
    rows: pl.DataFrame
    caps: Mapping[str, Floats]
    hours: Floats
    settings: Settings


@dataclass(frozen=True, slots=True)
class ScoredBlock:
    """A block's decisions, and its standings channel by channel."""

    standings: tuple[pl.DataFrame, ...]
    decided: DecidedUnits


def score_units(
    fits: Mapping[str, ChannelFit],
    state: pl.DataFrame,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    engine: Engine = HERE,
    *,
    block_units: int | None = None,
) -> ScoredUnits:
    """Standings, intervals and risks at the hours now of all units in `state`.

    caps : as in `decide_intervals`, (n,); hours : (n,) [h], NaN where not known; block_units : units of a block,
    None to score all at once; engine : works off the blocks.
    """
    keys, rule = state["unit_key"].to_list(), settings.standing
    if not fits or not keys:
        return ScoredUnits(no_standings(keys), decide_units({}, caps, hours, settings), {})
    if block_units is not None:
        blocks = list(engine.map(score_block, unit_blocks(fits, state, caps, hours, settings, units=block_units)))
        by_channel = [pl.concat(parts) for parts in zip(*(block.standings for block in blocks), strict=True)]
        decided = joined_blocks([block.decided for block in blocks])
        return ScoredUnits(fleet_standings(by_channel, rule), decided, None)
    rng = stream(settings.seed, "standings")
    standings = fleet_standings([channel_standings(fit, keys, rule=rule, rng=rng) for fit in fits.values()], rule)
    curves = risk_curves(fits, state, settings, stream(settings.seed, "units"))
    return ScoredUnits(standings, decide_units(curves, caps, hours, settings), curves)


def unit_blocks(
    fits: Mapping[str, ChannelFit],
    state: pl.DataFrame,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    *,
    units: int,
) -> Iterator[UnitBlock]:
    """Blocks of `units` successive units, each made when it is needed."""
    read = {"unit_key"} | {term.column for fit in fits.values() for term in fit.drains.terms}
    columns = [name for name in state.columns if name in read]
    for number, begin in enumerate(range(0, state.height, units)):
        part = slice(begin, begin + units)
        rows = state.select(columns).slice(begin, units)
        keys = rows["unit_key"].to_list()
        index = {channel: fit.unit_index(keys) for channel, fit in fits.items()}
        yield UnitBlock(
            number,
            {channel: fit.of_units(index[channel][index[channel] >= 0]) for channel, fit in fits.items()},
            rows,
            {name: cap[part] for name, cap in caps.items()},
            hours[part],
            settings,
        )


def score_block(block: UnitBlock) -> ScoredBlock:
    """Standings, intervals and risks of one block's units."""
    settings, keys = block.settings, block.rows["unit_key"].to_list()
    rng = stream(settings.seed, f"block {block.number} of units")
    standings: list[pl.DataFrame] = []
    curves: dict[str, RiskCurves] = {}
    for channel, fit in block.fits.items():
        effects = unit_effect_draws(fit, keys, rng=rng)
        standings.append(effect_standings(fit, keys, effects=effects, rule=settings.standing))
        limit = settings.limit_rating(channel)
        thresholds = threshold_draws(fit, block.rows, limit=limit, priors=settings.priors, rng=rng, effects=effects)
        curves[channel] = RiskCurves(thresholds, fit.hours_slope, settings.link)
    return ScoredBlock(tuple(standings), decide_units(curves, block.caps, block.hours, settings))


def decide_units(curves: Curves, caps: Mapping[str, Floats], hours: Floats, settings: Settings) -> DecidedUnits:
    """Intervals, and risks at the hours now, of units whose curves are at hand; arguments as in `score_units`.

    Raises ContractError where curves and rows are not of one number.
    """
    intervals = decide_intervals(curves, caps, hours.size, settings)
    if not curves:
        return DecidedUnits(intervals, np.full(hours.size, np.nan))
    return DecidedUnits(intervals, np.max([risk_at(curve, hours) for curve in curves.values()], axis=0))


def shorter_units(first: DecidedUnits, second: DecidedUnits) -> DecidedUnits:
    """Of two decisions on the same units the shorter interval and the larger risk of each unit."""
    return DecidedUnits(
        shorter_intervals(first.intervals, second.intervals), np.fmax(first.risk_now, second.risk_now)
    )


def joined_blocks(parts: Sequence[DecidedUnits]) -> DecidedUnits:
    """Successive blocks as one."""
    found = [part.intervals for part in parts]
    return DecidedUnits(
        DecidedIntervals(
            pl.concat([one.table for one in found]),
            np.concatenate([one.unrounded_h for one in found]),
            np.concatenate([one.cost_h for one in found]),
            tuple(why for one in found for why in one.cost_why),
            np.concatenate([one.cost_binds for one in found]),
        ),
        np.concatenate([part.risk_now for part in parts]),
    )


def curves_of_rows(
    fits: Mapping[str, ChannelFit],
    curves: Curves | None,
    state: pl.DataFrame,
    rows: Indices,
    settings: Settings,
) -> Curves:
    """Curves of some rows of the state: those that are at hand, else drawn for them."""
    if curves is not None:
        return {channel: curve.rows(rows) for channel, curve in curves.items()}
    return risk_curves(fits, state[rows], settings, stream(settings.seed, "some units"))
