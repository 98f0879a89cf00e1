"""Carry-over of oil between drains: oil left behind at one drain comes out at the next, leaked oil does not.

    missing_i = constant + leak x hours_i + stayed_i - stayed_(i-1) + noise_i

for each unit, where the variances of stayed and of noise are the same over the fleet. The shares missing at
neighbouring drains are then negatively correlated. The likelihood is computed from the innovations of this
tridiagonal covariance, unit by unit, with each unit's constant and leak integrated out (restricted maximum
likelihood: Patterson & Thompson 1971, Biometrika 58, 545-554; innovations: Brockwell & Davis 1991, Time Series:
Theory and Methods, ch. 5.2). Without carry-over it is ordinary least squares.
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
"""Candidate ratios of the variance of stayed oil to that of the noise, among which the likelihood chooses."""

CHOSEN_GAIN = 1.36
"""Gain in log likelihood over which carry-over is accepted: exceeded with probability 5 % without any (the null
distribution is an even mixture of 0 and chi-squared with 1 degree of freedom)."""

FEWEST_FREEDOM = 12
"""Degrees of freedom (drains beyond two a unit, over the fleet) below which carry-over is not estimated."""

_LEAST_VARIATION = 1e-9


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
        """Groups of successive units with at least `rows` drains each; the last may have fewer."""
        units = self.starts.size - 1
        marks = np.searchsorted(self.starts, np.arange(0, self.starts[-1], rows))
        for begin, end in pairwise(np.unique(np.append(marks, units)).tolist()):
            piece_rows = slice(self.starts[begin], self.starts[end])
            yield Series(
                self.share[piece_rows],
                self.hours[piece_rows],
                self.starts[begin : end + 1] - self.starts[begin],
                self.old_oil[piece_rows],
                self.stays[piece_rows],
                self.follows[piece_rows],
            )

    def thinned(self, most: int | None) -> Series:
        """At most `most` evenly spaced units; None for all."""
        units = self.starts.size - 1
        if most is None or units <= most:
            return self
        kept = np.unique(np.linspace(0, units - 1, most).astype(np.int64))
        lengths = np.diff(self.starts)[kept]
        starts = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
        rows = np.arange(starts[-1]) + np.repeat(self.starts[kept] - starts[:-1], lengths)
        columns = (self.share, self.hours, self.old_oil, self.stays, self.follows)
        share, hours, old_oil, stays, follows = (column[rows] for column in columns)
        return Series(share, hours, starts, old_oil, stays, follows)


@dataclass(frozen=True)
class BalanceLines:
    """Constant and leak of each unit by generalised least squares, (U,) each.

    per_hour : leak [share/h]; unscaled : its variance over the noise's; noise : residual variance; freedom : degrees
    of freedom of `noise`.
    """

    per_hour: Floats
    unscaled: Floats
    noise: Floats
    freedom: Integers


def carry_over_ratio(series: Series) -> float | None:
    """The fleet's ratio of the variances of stayed oil and noise: 0 without carry-over, None with too few drains.

    Only units with four drains at differing hours contribute.
    """
    if int(np.maximum(np.diff(series.starts) - 2, 0).sum()) < FEWEST_FREEDOM:
        return None
    log_likelihoods = [_restricted_log_likelihood(series, ratio) for ratio in RATIOS]
    best = int(np.argmax(log_likelihoods))
    return RATIOS[best] if log_likelihoods[best] - log_likelihoods[0] > CHOSEN_GAIN else 0.0


def balance_lines(series: Series, ratio: float, *, piece_rows: int = PIECE_ROWS) -> BalanceLines:
    """Each unit's line over hours, given the ratio; a large log is processed in groups of units."""
    groups = [_lines(*_innovations(piece, ratio), starts=piece.starts)[0] for piece in series.pieces(piece_rows)]
    return BalanceLines(
        np.concatenate([lines.per_hour for lines in groups]),
        np.concatenate([lines.unscaled for lines in groups]),
        np.concatenate([lines.noise for lines in groups]),
        np.concatenate([lines.freedom for lines in groups]),
    )


def _restricted_log_likelihood(series: Series, ratio: float) -> float:
    white, scale = _innovations(series, ratio)
    lines, log_determinant = _lines(white, scale, starts=series.starts)
    used = lines.freedom >= 2
    used_drains = np.repeat(used, np.diff(series.starts))
    freedom = float(lines.freedom[used].sum())
    noise = float((lines.noise * lines.freedom)[used].sum()) / max(freedom, 1.0)
    log_determinants = float(np.log(scale[used_drains]).sum() + log_determinant[used].sum())
    return -0.5 * (log_determinants + freedom * math.log(max(noise, 1e-300)))


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
        rows = order[begin:end]
        rows = rows[linked[rows]]
        back = -ratio / scale[rows - 1]
        white[rows] -= back[:, None] * white[rows - 1]
        scale[rows] += back * ratio
    return white, scale


def _lines(white: Floats, scale: Floats, *, starts: Integers) -> tuple[BalanceLines, Floats]:
    """Least squares of each unit on its innovations, and the log determinant of its normal equations."""
    share, constant, hours = white.T
    weight = 1.0 / scale

    def total(values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values * weight, starts[:-1])) if values.size else np.empty(0)

    s_11, s_1h, s_hh = total(constant * constant), total(constant * hours), total(hours * hours)
    s_1y, s_hy, s_yy = total(constant * share), total(hours * share), total(share * share)
    squares = s_hh - s_1h**2 / s_11
    varies = squares > _LEAST_VARIATION * s_hh
    squares = np.where(varies, squares, 1.0)
    per_hour = np.where(varies, (s_hy - s_1h * s_1y / s_11) / squares, 0.0)
    rest = s_yy - s_1y**2 / s_11 - per_hour**2 * squares
    freedom = np.where(varies, np.diff(starts) - 2, 0)
    noise = np.maximum(rest, 0.0) / np.maximum(freedom, 1)
    lines = BalanceLines(per_hour, 1.0 / squares, noise, np.maximum(freedom, 0).astype(np.int64))
    return lines, np.where(varies, np.log(s_11) + np.log(squares), 0.0)
