"""Every unit's standing, interval and risk: all at once, or in a large fleet block by block (`unit_blocks`).

A block's unit effects are drawn once and serve both its standings and its intervals.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.intervals import DecidedIntervals, decide_intervals, shorter_intervals
from draincurve.pipeline.deciding.oil_curves import OilCurves, UnitDraws, oil_curves, risk_at, unit_draws
from draincurve.pipeline.deciding.unit_blocks import UnitBlock, block_stream, unit_blocks
from draincurve.pipeline.fitting import HERE, Engine, OilFit
from draincurve.pipeline.judging import fleet_standings, no_standings, ratio_standings
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class DecidedUnits:
    """Rows of units, with their intervals and the oil's risk at the hours now, (n,)."""

    intervals: DecidedIntervals
    risk_now: Floats

    def rows(self, chosen: Indices) -> DecidedUnits:
        """The decisions of some rows only."""
        intervals = self.intervals
        return DecidedUnits(
            DecidedIntervals(
                intervals.table[chosen],
                intervals.unrounded_h[chosen],
                intervals.cost_h[chosen],
                tuple(intervals.cost_why[row] for row in chosen),
                intervals.cost_binds[chosen],
                {name: risks[chosen] for name, risks in intervals.channel_risks.items()},
            ),
            self.risk_now[chosen],
        )


@dataclass(frozen=True, slots=True)
class ScoredUnits:
    """All units: standings as `fleet_standings` gives them; in order, decisions, and curves if drawn at once."""

    standings: pl.DataFrame
    decided: DecidedUnits
    curves: OilCurves | None


@dataclass(frozen=True, slots=True)
class ScoredBlock:
    """A block's decisions, and its standings as `ratio_standings` gives them."""

    standings: pl.DataFrame
    decided: DecidedUnits


def score_units(
    oil: OilFit,
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
    None to score all at once; engine : scores the blocks.
    """
    keys = state["unit_key"].to_list()
    if not oil.fits or not keys:
        nothing = OilCurves({})
        return ScoredUnits(no_standings(keys), decide_units(nothing, caps, hours, settings), nothing)
    if block_units is not None:
        blocks = list(engine.map(score_block, unit_blocks(oil, state, caps, hours, settings, units=block_units)))
        standings = fleet_standings(pl.concat([block.standings for block in blocks]), settings.standing)
        return ScoredUnits(standings, joined_blocks([block.decided for block in blocks]), None)
    drawn, units = _drawn_and_standings(oil, state, settings, stream(settings.seed, "units"))
    standings = fleet_standings(units, settings.standing)
    return ScoredUnits(
        standings, decide_units(drawn.curves, caps, hours, settings, log_hours=drawn.log_hours), drawn.curves
    )


def decide_interpretation(
    oil: OilFit,
    state: pl.DataFrame,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    engine: Engine,
    *,
    block_units: int | None,
) -> tuple[DecidedUnits, OilCurves | None]:
    """The decisions by another interpretation of what is asked about, and the curves if drawn at once.

    Without standings; else as `score_units`.
    """
    if block_units is not None:
        return score_units(oil, state, caps, hours, settings, engine, block_units=block_units).decided, None
    curves = oil_curves(oil, state, settings, stream(settings.seed, "units"))
    return decide_units(curves, caps, hours, settings), curves


def score_block(block: UnitBlock) -> ScoredBlock:
    """Standings, intervals and risks of one block's units."""
    drawn, units = _drawn_and_standings(block.oil, block.rows, block.settings, block_stream(block))
    decided = decide_units(drawn.curves, block.caps, block.hours, block.settings, log_hours=drawn.log_hours)
    return ScoredBlock(units, decided)


def _drawn_and_standings(
    oil: OilFit, rows: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> tuple[UnitDraws, pl.DataFrame]:
    """Draws of the units in `rows`, and their standings as `ratio_standings` gives them."""
    keys = rows["unit_key"].to_list()
    drawn = unit_draws(oil, rows, settings, rng)
    rated = np.max([np.append(fit.rated, 0)[fit.unit_index(keys)] for fit in oil.fits.values()], axis=0)
    units = ratio_standings(
        keys, drawn.ratios, channels=drawn.channels, rated=rated.astype(np.int64), rule=settings.standing
    )
    return drawn, units


def decide_units(
    curves: OilCurves,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    *,
    log_hours: Floats | None = None,
) -> DecidedUnits:
    """Intervals, and risks at the hours now, of units whose curves are known; arguments as in `score_units`.

    log_hours : as in `decide_intervals`. Raises ContractError where curves and rows are not of one number.
    """
    intervals = decide_intervals(curves, caps, hours.size, settings, log_hours=log_hours)
    if not curves.channels:
        return DecidedUnits(intervals, np.full(hours.size, np.nan))
    return DecidedUnits(intervals, risk_at(curves, hours))


def shorter_units(first: DecidedUnits, second: DecidedUnits) -> DecidedUnits:
    """Of two decisions on the same units the shorter interval and the larger risk of each unit."""
    return DecidedUnits(
        shorter_intervals(first.intervals, second.intervals), np.fmax(first.risk_now, second.risk_now)
    )


def joined_blocks(blocks: Sequence[DecidedUnits]) -> DecidedUnits:
    """Successive blocks as one."""
    intervals = [part.intervals for part in blocks]
    return DecidedUnits(
        DecidedIntervals(
            pl.concat([block.table for block in intervals]),
            np.concatenate([block.unrounded_h for block in intervals]),
            np.concatenate([block.cost_h for block in intervals]),
            tuple(why for block in intervals for why in block.cost_why),
            np.concatenate([block.cost_binds for block in intervals]),
            {
                name: np.concatenate([block.channel_risks[name] for block in intervals])
                for name in intervals[0].channel_risks
            },
        ),
        np.concatenate([part.risk_now for part in blocks]),
    )
