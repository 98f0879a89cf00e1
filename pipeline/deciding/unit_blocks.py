"""Every unit's interval and risk, a block of units at a time, so that what is drawn for them need not all be held."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.deciding.bracketed_root import Floats
from pipeline.deciding.channel_curves import channel_curves
from pipeline.deciding.hours_curves import HoursCurves, risk_at
from pipeline.deciding.intervals import DecidedIntervals, decide_intervals
from pipeline.describing.fleet_size import BLOCK_UNITS, is_large
from pipeline.fitting.channel_fit import ChannelFit
from pipeline.fitting.random_streams import stream
from schemas.errors import ContractError
from schemas.settings import Settings

Curves = Mapping[str, HoursCurves]


@dataclass(frozen=True, slots=True)
class DecidedUnits:
    """Rows of units, with their intervals and the larger of the channels' risks at the hours now, (n,)."""

    intervals: DecidedIntervals
    risk_now: Floats


def curves_of_units(
    fits: Mapping[str, ChannelFit], state: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> Curves | Iterator[Curves]:
    """Curves of the state's rows; of a large fleet those of one block after the other."""
    if is_large(state.height) and fits:
        starts = range(0, state.height, BLOCK_UNITS)
        return (channel_curves(fits, state.slice(begin, BLOCK_UNITS), settings, rng) for begin in starts)
    return channel_curves(fits, state, settings, rng)


def curves_of_some(
    fits: Mapping[str, ChannelFit],
    curves: Curves | Iterator[Curves],
    state: pl.DataFrame,
    rows: NDArray[np.intp],
    settings: Settings,
) -> Curves:
    """Curves of some rows of the state: those that are at hand, else drawn for them."""
    if isinstance(curves, Mapping):
        return {channel: curve.rows(rows) for channel, curve in curves.items()}
    return channel_curves(fits, state[rows], settings, stream(settings.seed, "some units"))


def decide_units(
    blocks: Iterable[Curves], caps: Mapping[str, Floats], hours: Floats, settings: Settings
) -> DecidedUnits:
    """Intervals, and risks at the hours now, of all units.

    blocks : curves of successive rows, all of them together; caps : as in `decide_intervals`, (n,); hours : (n,) [h],
    NaN where not known. Raises ContractError where curves and rows are not of one number.
    """
    parts: list[DecidedUnits] = []
    done = 0
    for curves in blocks:
        rows = next((curve.units for curve in curves.values()), hours.size)
        part = slice(done, done + rows)
        done += rows
        if done > hours.size:
            break
        own = {name: cap[part] for name, cap in caps.items()}
        parts.append(DecidedUnits(decide_intervals(curves, own, rows, settings), _largest_risk(curves, hours[part])))
    if done != hours.size:
        raise ContractError(f"{done} curves for {hours.size} rows; expected one each, in order")
    return parts[0] if len(parts) == 1 else _together(parts)


def _together(parts: list[DecidedUnits]) -> DecidedUnits:
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


def _largest_risk(curves: Curves, hours: Floats) -> Floats:
    """The larger of the channels' risks at the hours now; NaN without hours or channels."""
    if not curves:
        return np.full(hours.size, np.nan)
    largest: Floats = np.max([risk_at(curve, hours) for curve in curves.values()], axis=0)
    return largest
