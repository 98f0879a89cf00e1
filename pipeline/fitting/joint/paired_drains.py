"""The drains of several channels side by side: each with its rating on all, or on some of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import NamedTuple

import numpy as np
import polars as pl

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Integers

_SAME_DRAIN = ("unit_key", "drained_on", "oil_hours")
"""Columns that identify a drain; drains that agree in all of them are taken in the order of the log."""


class ChannelRatings(NamedTuple):
    """One channel's ratings of N drains under S draws of its parameters.

    low, high : (N,), from 1 to K; where there is no rating the whole scale; row : (N,), row among the fit's, 0 where
    there is none; bounds : (S, K + 1), thresholds between -inf and +inf; fixed : (S, rows of the fit), linear
    predictors without the unit's effect; unit_sds : (S,)
    """

    low: Integers
    high: Integers
    row: Integers
    bounds: Floats
    fixed: Floats
    unit_sds: Floats


class PairedDrains(NamedTuple):
    """Drains sorted by unit, with their row in each channel's fit, -1 where the channel has no rating.

    unit_keys : (U,); starts : (U + 1,), first drain of each unit, with the end last; rows : (channels, N)
    """

    unit_keys: tuple[str, ...]
    starts: Integers
    rows: Integers

    def of_units(self, units: Integers) -> PairedDrains:
        """The drains of some units, in that order."""
        drains = np.concatenate([np.arange(self.starts[unit], self.starts[unit + 1]) for unit in units])
        starts = np.concatenate(([0], np.cumsum(np.diff(self.starts)[units])))
        return PairedDrains(tuple(self.unit_keys[unit] for unit in units), starts, self.rows[:, drains])

    def sample(self, drains: int, seed: int) -> PairedDrains:
        """All drains, or those of random units that together have about so many."""
        units = len(self.unit_keys)
        if self.rows.shape[1] <= drains:
            return self
        order = stream(seed, "association").permutation(units)
        enough = np.searchsorted(np.cumsum(np.diff(self.starts)[order]), drains) + 1
        return self.of_units(np.sort(order[:enough]))


def paired_drains(*fits: ChannelFit) -> PairedDrains:
    """The drains that any channel is fitted to; rows : one row for each channel."""
    if _same_drains(fits):
        starts, rows = fits[0].fit.objective.likelihood.ratings.starts, np.arange(fits[0].fit.order.size)
        return PairedDrains(fits[0].unit_keys, starts.copy(), np.tile(rows, (len(fits), 1)))
    names, keys = [f"row_{number}" for number in range(len(fits))], [*_SAME_DRAIN, "nth"]
    sides = [_drains_of(fit, name) for fit, name in zip(fits, names, strict=True)]
    joined = reduce(lambda one, two: one.join(two, on=keys, how="full", coalesce=True, nulls_equal=True), sides)
    joined = joined.sort(keys, nulls_last=True)
    runs = joined["unit_key"].rle()
    starts = np.concatenate(([0], np.cumsum(runs.struct.field("len").to_numpy()))).astype(np.int64)
    rows = joined.select(pl.col(names).fill_null(-1).cast(pl.Int64)).to_numpy().T
    return PairedDrains(tuple(runs.struct.field("value")), starts, np.ascontiguousarray(rows))


def _same_drains(fits: Sequence[ChannelFit]) -> bool:
    """Whether every channel is rated at the same drains, in order of time, so that nothing need be joined."""
    first, *others = (fit.drains.rows.select(_SAME_DRAIN)[fit.fit.order] for fit in fits)
    days, hours = (np.diff(first[name].to_physical().to_numpy()) for name in _SAME_DRAIN[1:])
    ordered = (days > 0) | ((days == 0) & (hours >= 0))
    ordered[fits[0].fit.objective.likelihood.ratings.starts[1:-1] - 1] = True
    return bool(ordered.all()) and all(first.equals(other) for other in others)


def channel_ratings(fit: ChannelFit, rows: Integers, natural: Floats) -> ChannelRatings:
    """The ratings of one channel; rows : (N,), -1 where there is none; natural : (S, P), parameters."""
    likelihood = fit.fit.objective.likelihood
    seen = rows >= 0
    row = np.where(seen, rows, 0)
    low = np.where(seen, likelihood.ratings.low[row], 1)
    high = np.where(seen, likelihood.ratings.high[row], likelihood.ratings.levels)
    return ChannelRatings(low, high, row, *likelihood.unpacked(natural))


def _drains_of(fit: ChannelFit, name: str) -> pl.DataFrame:
    """Rows of the fit, in its order, with the number of each among those that agree in _SAME_DRAIN."""
    rows = fit.drains.rows.select(_SAME_DRAIN)
    return (
        rows[fit.fit.order]
        .with_columns(pl.col("unit_key").cast(pl.String))
        .with_row_index(name)
        .with_columns(pl.int_range(pl.len()).over(_SAME_DRAIN).alias("nth"))
    )
