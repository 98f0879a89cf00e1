"""What stays behind at one drain comes out at the next; what leaks does not, and grows with hours.

    missing_i = constant + leak x hours_i + stayed_i - stayed_(i-1) + noise_i

for each unit, with stayed and noise of the same variance over the fleet. What is missing at neighbouring drains is
then negatively correlated. The likelihood comes from the innovations of this tridiagonal covariance, unit by unit,
with each unit's constant and leak integrated out (restricted maximum likelihood: Patterson & Thompson 1971,
Biometrika 58, 545-554; innovations: Brockwell & Davis 1991, Time Series: Theory and Methods, ch. 5.2). Without stayed
oil it is ordinary least squares.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from draincurve.pipeline.processing import PIECE_ROWS
from draincurve.schemas.array_types import Booleans, Floats, Integers

RATIOS = (0.0, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0)
"""Variance of what stays behind over that of the noise, among which the likelihood chooses."""

CHOSEN_GAIN = 1.36
"""Gain in log likelihood at which stayed oil is believed: 5 % by chance without any (half of chi-square 1)."""

FEWEST_FREEDOM = 12
"""Drains past two a unit, over the fleet, under which nothing is asked."""

_LEAST_SPREAD = 1e-9


@dataclass(frozen=True)
class Series:
    """Drains by unit and in order of time.

    share : (n,) missing over filled; hours : (n,) [h]; starts : (U + 1,) slice bounds of units; old_oil, stays : (n,)
    whether oil of the fill before may be in it, and whether some may stay; follows : (n,) the drain before is there.
    """

    share: Floats
    hours: Floats
    starts: Integers
    old_oil: Booleans
    stays: Booleans
    follows: Booleans

    def pieces(self, rows: int = PIECE_ROWS) -> Iterator[Series]:
        """Successive units, so many as have `rows` drains or a few more."""
        units = self.starts.size - 1
        marks = np.searchsorted(self.starts, np.arange(0, self.starts[-1], rows))
        for begin, end in pairwise(np.unique(np.append(marks, units)).tolist()):
            at = slice(self.starts[begin], self.starts[end])
            yield Series(
                self.share[at],
                self.hours[at],
                self.starts[begin : end + 1] - self.starts[begin],
                self.old_oil[at],
                self.stays[at],
                self.follows[at],
            )

    def thinned(self, most: int | None) -> Series:
        """Evenly spaced units, `most` of them at most, None for all."""
        units = self.starts.size - 1
        if most is None or units <= most:
            return self
        kept = np.unique(np.linspace(0, units - 1, most).astype(np.int64))
        lengths = np.diff(self.starts)[kept]
        starts = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
        at = np.arange(starts[-1]) + np.repeat(self.starts[kept] - starts[:-1], lengths)
        columns = (self.share, self.hours, self.old_oil, self.stays, self.follows)
        share, hours, old_oil, stays, follows = (column[at] for column in columns)
        return Series(share, hours, starts, old_oil, stays, follows)


@dataclass(frozen=True)
class BalanceLines:
    """Constant and leak of each unit by generalised least squares, (U,) each.

    per_hour : leak [share/h]; unscaled : its variance over the noise's; noise : residual variance, freedom : of it.
    """

    per_hour: Floats
    unscaled: Floats
    noise: Floats
    freedom: Integers


def carry_over_ratio(series: Series) -> float | None:
    """Stayed over noise variance of the fleet: 0 where none is seen, None where drains are too few to ask.

    Units need four drains at differing hours to have a say.
    """
    if int(np.maximum(np.diff(series.starts) - 2, 0).sum()) < FEWEST_FREEDOM:
        return None
    heights = [_restricted_log_likelihood(series, ratio) for ratio in RATIOS]
    best = int(np.argmax(heights))
    return RATIOS[best] if heights[best] - heights[0] > CHOSEN_GAIN else 0.0


def balance_lines(series: Series, ratio: float, *, piece_rows: int = PIECE_ROWS) -> BalanceLines:
    """Each unit's line over hours, given the ratio; of a large log for some of its units at a time."""
    found = [_lines(*_innovations(piece, ratio), starts=piece.starts)[0] for piece in series.pieces(piece_rows)]
    return BalanceLines(
        np.concatenate([lines.per_hour for lines in found]),
        np.concatenate([lines.unscaled for lines in found]),
        np.concatenate([lines.noise for lines in found]),
        np.concatenate([lines.freedom for lines in found]),
    )


def _restricted_log_likelihood(series: Series, ratio: float) -> float:
    white, scale = _innovations(series, ratio)
    lines, log_determinant = _lines(white, scale, starts=series.starts)
    speaks = lines.freedom >= 2
    of_drain = np.repeat(speaks, np.diff(series.starts))
    freedom = float(lines.freedom[speaks].sum())
    noise = float((lines.noise * lines.freedom)[speaks].sum()) / max(freedom, 1.0)
    logs = float(np.log(scale[of_drain]).sum() + log_determinant[speaks].sum())
    return -0.5 * (logs + freedom * math.log(max(noise, 1e-300)))


def _innovations(series: Series, ratio: float) -> tuple[Floats, Floats]:
    """Innovations of share, 1 and hours, (n, 3), and their variances over the noise's, (n,).

    Drains of a unit come one after the other, so the loop is over a drain's position in its unit, all units at once.
    """
    counts = np.diff(series.starts)
    position = np.arange(series.share.size) - np.repeat(series.starts[:-1], counts)
    white = np.column_stack((series.share, np.ones(series.share.size), series.hours))
    scale = 1.0 + ratio * (series.old_oil.astype(float) + series.stays)
    if ratio == 0.0:
        return white, scale
    linked = series.follows & series.old_oil
    order = np.argsort(position, kind="stable")
    bounds = np.searchsorted(position[order], np.arange(1, int(counts.max(initial=0)) + 1))
    for begin, end in pairwise(bounds):
        at = order[begin:end]
        at = at[linked[at]]
        back = -ratio / scale[at - 1]
        white[at] -= back[:, None] * white[at - 1]
        scale[at] += back * ratio
    return white, scale


def _lines(white: Floats, scale: Floats, *, starts: Integers) -> tuple[BalanceLines, Floats]:
    """Least squares of each unit on its innovations, and the log determinant of its normal equations."""
    share, one, hours = white.T
    weight = 1.0 / scale

    def total(values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values * weight, starts[:-1])) if values.size else np.empty(0)

    s_11, s_1h, s_hh = total(one * one), total(one * hours), total(hours * hours)
    s_1y, s_hy, s_yy = total(one * share), total(hours * share), total(share * share)
    squares = s_hh - s_1h**2 / s_11
    varies = squares > _LEAST_SPREAD * s_hh
    squares = np.where(varies, squares, 1.0)
    per_hour = np.where(varies, (s_hy - s_1h * s_1y / s_11) / squares, 0.0)
    rest = s_yy - s_1y**2 / s_11 - per_hour**2 * squares
    freedom = np.where(varies, np.diff(starts) - 2, 0)
    noise = np.maximum(rest, 0.0) / np.maximum(freedom, 1)
    lines = BalanceLines(per_hour, 1.0 / squares, noise, np.maximum(freedom, 0).astype(np.int64))
    return lines, np.where(varies, np.log(s_11) + np.log(squares), 0.0)
