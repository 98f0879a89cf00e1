"""The part of a log's drains that is asked for, and no copy of the rest: in a large log a copy is what costs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.processing import PIECE_ROWS


def drains_until(drains: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Drains up to a day; the frame itself where that is all of them."""
    known = (drains["drained_on"] <= as_of).fill_null(False)
    return drains if known.all() else drains.filter(known)


def oil_changes(drains: pl.DataFrame, columns: Iterable[str]) -> pl.DataFrame:
    """Some columns of the drains that are no top-ups; a blank kind of service is an oil change."""
    change = drains.select(pl.col("service_kind").fill_null("oil") != "top-up").to_series()
    wanted = drains.select(columns)
    return wanted if change.all() else wanted.filter(change)


def by_unit_batches(
    drains: pl.DataFrame, work: Callable[[pl.DataFrame], pl.DataFrame], *, piece_rows: int = PIECE_ROWS
) -> pl.DataFrame:
    """What is worked out unit by unit, of a large log for some of its units at a time, put together.

    work : its rows must follow from the rows of their own unit alone, and come by unit where the drains do.
    """
    pieces = [work(piece) for piece in _unit_pieces(drains, piece_rows)]
    return pieces[0] if len(pieces) == 1 else pl.concat(pieces)


def _unit_pieces(drains: pl.DataFrame, piece_rows: int) -> Iterator[pl.DataFrame]:
    """Successive rows of whole units; all rows at once where units do not lie together."""
    if drains.height <= 2 * piece_rows or not drains["unit_key"].is_sorted():
        yield drains
        return
    begins = np.flatnonzero(np.diff(drains["unit_key"].rle_id().to_numpy(), prepend=-1))
    marks = begins[np.searchsorted(begins, np.arange(0, drains.height, piece_rows), side="right") - 1]
    bounds = np.unique(np.append(marks, drains.height))
    for begin, end in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        yield drains[begin:end]
