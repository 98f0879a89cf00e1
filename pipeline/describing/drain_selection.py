"""Selections of drains with few copies, which are the main cost of a large log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.processing import PIECE_ROWS
from draincurve.schemas.service_kinds import is_oil_change


def drains_until(drains: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Drains up to a day, or the frame itself where that is all of them."""
    known = (drains["drained_on"] <= as_of).fill_null(False)
    return drains if known.all() else drains.filter(known)


def oil_changes(drains: pl.DataFrame, columns: Iterable[str]) -> pl.DataFrame:
    """Some columns of all drains but top-ups. A drain without a kind of service is an oil change."""
    change = drains.select(is_oil_change()).to_series()
    selected = drains.select(columns)
    return selected if change.all() else selected.filter(change)


def by_unit_batches(
    drains: pl.DataFrame, function: Callable[[pl.DataFrame], pl.DataFrame], *, piece_rows: int = PIECE_ROWS
) -> pl.DataFrame:
    """The function's rows for all drains, computed for some units of a large log at a time.

    function : its rows for a unit must depend on that unit's drains only, and keep the order of the units.
    """
    batches = [function(batch) for batch in _unit_batches(drains, piece_rows)]
    return batches[0] if len(batches) == 1 else pl.concat(batches)


def _unit_batches(drains: pl.DataFrame, piece_rows: int) -> Iterator[pl.DataFrame]:
    """Successive rows of whole units; all rows at once where they are not sorted by unit."""
    if drains.height <= 2 * piece_rows or not drains["unit_key"].is_sorted():
        yield drains
        return
    begins = np.flatnonzero(np.diff(drains["unit_key"].rle_id().to_numpy(), prepend=-1))
    marks = begins[np.searchsorted(begins, np.arange(0, drains.height, piece_rows), side="right") - 1]
    bounds = np.unique(np.append(marks, drains.height))
    for begin, end in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        yield drains[begin:end]
