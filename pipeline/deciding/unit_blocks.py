"""Blocks of a large fleet's units, and the curves of some units by the draws of their blocks.

Blocks follow from the order of the units and have random numbers of their own. So the place and order of their
computation do not matter, and a block that is drawn again has the draws by which its units were scored.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.oil_curves import OilCurves, oil_curves
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.pipeline.fitting import Engine, OilFit
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class UnitBlock:
    """What scoring some units takes: their fits with their ratings only, rows, caps and hours as in `score_units`.

    number : the block's, by which its random numbers are drawn.
    """

    number: int
    oil: OilFit
    rows: pl.DataFrame
    caps: Mapping[str, Floats]
    hours: Floats
    settings: Settings


def unit_blocks(
    oil: OilFit,
    state: pl.DataFrame,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    *,
    units: int,
    numbers: Collection[int] | None = None,
) -> Iterator[UnitBlock]:
    """Blocks of `units` successive units, each made when it is needed; numbers : of those wanted, None for all."""
    read = {"unit_key"} | {term.column for fit in oil.fits.values() for term in fit.drains.terms}
    columns = [name for name in state.columns if name in read]
    for number, begin in enumerate(range(0, state.height, units)):
        if numbers is not None and number not in numbers:
            continue
        part = slice(begin, begin + units)
        rows = state.select(columns).slice(begin, units)
        keys = rows["unit_key"].to_list()
        index = {channel: fit.unit_index(keys) for channel, fit in oil.fits.items()}
        fits = {channel: fit.of_units(index[channel][index[channel] >= 0]) for channel, fit in oil.fits.items()}
        block_caps = {name: cap[part] for name, cap in caps.items()}
        yield UnitBlock(number, OilFit(fits, oil.joint), rows, block_caps, hours[part], settings)


def block_stream(block: UnitBlock) -> np.random.Generator:
    """A fresh generator of the block's random numbers."""
    return stream(block.settings.seed, f"block {block.number} of units")


def curves_of_rows(
    oil: OilFit,
    curves: OilCurves | None,
    state: pl.DataFrame,
    rows: Indices,
    settings: Settings,
    engine: Engine,
    *,
    block_units: int | None,
) -> OilCurves:
    """Curves of some rows of the state, of the draws by which they were scored.

    curves : those of all rows, where they are known; else the rows' blocks are drawn again, as `score_units` did with
    the same `block_units`. rows : ascending.
    """
    if curves is not None:
        return curves.rows(rows)
    assert block_units is not None, "only blocks are scored without keeping their curves"
    number, place = np.divmod(rows, block_units)
    not_used = np.full(state.height, np.nan)
    blocks = unit_blocks(oil, state, {}, not_used, settings, units=block_units, numbers=set(number.tolist()))
    return joined_curves(
        list(engine.map(curves_in_block, ((block, place[number == block.number]) for block in blocks)))
    )


def curves_in_block(task: tuple[UnitBlock, Indices]) -> OilCurves:
    """Curves of some rows of a block, of the draws that `score_block` makes."""
    block, rows = task
    return oil_curves(block.oil, block.rows, block.settings, block_stream(block)).rows(rows)


def joined_curves(parts: Sequence[OilCurves]) -> OilCurves:
    """Curves of the same draws, their rows one after another."""
    if not parts:
        return OilCurves({})
    first = parts[0]
    channels = {
        name: RiskCurves(np.concatenate([part.channels[name].threshold for part in parts]), curves.slope, curves.link)
        for name, curves in first.channels.items()
    }
    return OilCurves(channels, first.log_odds_ratio)
