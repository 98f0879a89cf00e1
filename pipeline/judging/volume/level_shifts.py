"""Units from which more oil is missing than before, at the last drain or the last two.

Oil that one drain leaves behind comes out at the next, so it cancels over two drains; a new leak does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from scipy.special import stdtr

from draincurve.pipeline.holm import holm
from draincurve.pipeline.judging.volume.missing_oil import FALSE_ALARM, NOISE_SHARE, READING_SD
from draincurve.schemas.array_types import Floats, Integers

FEWEST_BEFORE = 3
LATEST = (1, 2)
"""Numbers of latest drains that are compared with all drains before them."""


@dataclass(frozen=True)
class Step:
    """A unit's last drains against those before.

    on : day of the first of them; before, after : missing share; drains : how many differ; wet : a leak or a seal
    is noted at one; method : how those before were drained, and how these, where that changed, else None; p : Holm.
    """

    on: date
    before: float
    after: float
    drains: int
    wet: bool
    method: tuple[str, str] | None
    p: float


def steps(table: pl.DataFrame, starts: Integers, *, scatter: Floats, freedom: Floats) -> dict[int, Step]:
    """Steps by the index of their unit.

    table : as `missing_oil` gives it; starts : (U + 1,) slice bounds of units; scatter : (U,) variance of shares
    about the unit's line, freedom : of it. One-sided t tests, one for each of LATEST, with Holm's correction over
    units; a step within the noise is none.
    """
    share = table["share"].to_numpy()
    p = np.array([_p_values(share, starts, last=last, scatter=scatter, freedom=freedom) for last in LATEST])
    tested = np.flatnonzero(np.diff(starts) >= FEWEST_BEFORE + 1)
    adjusted = holm(np.minimum(p.min(axis=0) * len(LATEST), 1.0)[tested].tolist())
    return {
        int(unit): _step(
            table[int(starts[unit]) : int(starts[unit + 1])], LATEST[int(p[:, unit].argmin())], p=p_adjusted
        )
        for unit, p_adjusted in zip(tested, adjusted, strict=True)
        if p_adjusted <= FALSE_ALARM
    }


def _p_values(share: Floats, starts: Integers, *, last: int, scatter: Floats, freedom: Floats) -> Floats:
    """Probability of as large a rise where there is none, (U,); 1 within the noise, or with few before."""
    drains = np.diff(starts)
    before = np.maximum(drains - last, 1)
    early = np.arange(share.size) < np.repeat(starts[1:] - last, drains)
    total = np.add.reduceat(np.where(early, share, 0.0), starts[:-1])
    mean = total / before
    rise = (np.add.reduceat(share, starts[:-1]) - total) / last - mean
    squares = np.add.reduceat(np.where(early, np.square(share - np.repeat(mean, drains)), 0.0), starts[:-1])
    variance = np.maximum(np.maximum(squares / np.maximum(before - 1, 1), scatter), READING_SD**2)
    error = np.sqrt(variance * (1.0 / last + 1.0 / before))
    p = stdtr(np.maximum(np.maximum(freedom, before - 1.0), 1.0), -rise / error)
    return np.where((drains - last >= FEWEST_BEFORE) & (rise > NOISE_SHARE), p, 1.0)


def _step(rows: pl.DataFrame, last: int, *, p: float) -> Step:
    before, after = rows[:-last], rows[-last:]
    usual, now = before["drain_method"].drop_nulls().mode().sort(), after["drain_method"].drop_nulls()
    changed = usual.len() > 0 and now.len() > 0 and now[0] not in usual.to_list()
    return Step(
        on=after["drained_on"][0],
        before=float(before["share"].mean()),  # type: ignore[arg-type]
        after=float(after["share"].mean()),  # type: ignore[arg-type]
        drains=last,
        wet=bool(after["wet"].any()),
        method=(usual[0], now[0]) if changed else None,
        p=p,
    )
