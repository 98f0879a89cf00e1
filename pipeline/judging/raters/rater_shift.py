"""How much dirtier or cleaner each rater rates than the others, from the effects that the fit gives to raters.

Raters can be compared only where they rated the same units: a rater who saw units of their own alone may be harsh,
or may have the dirty units. Raters linked by shared units form a circle, and each is held against its circle.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from draincurve.pipeline.fitting import ChannelFit
from draincurve.schemas.array_types import Floats, Integers

RATER_COLUMN = "rated_by"
_MOST_ROWS = 400
_SHIFTS = np.linspace(-12.0, 12.0, 97)


@dataclass(frozen=True, slots=True)
class RaterShift:
    """One rater against the others, median with 5 % and 95 % points; draws of the shift in levels, (S,).

    drains, units : rated by them; shared_units : of these, rated by another rater too; compared_with : raters they
    can be held against. multiplier : hours at which they call a level, over the others' hours; levels :
    mean difference in levels. Both are None where nothing can be compared.
    """

    rater: str
    drains: int
    units: int
    shared_units: int
    compared_with: tuple[str, ...]
    multiplier: tuple[float, float, float] | None
    levels: tuple[float, float, float] | None
    level_draws: Floats

    @property
    def in_the_middle(self) -> bool:
        """Whether this is the rater that the others of the circle are held against."""
        return self.levels is not None and self.levels[1] == self.levels[2] == 0.0


def rater_shifts(fit: ChannelFit) -> tuple[RaterShift, ...]:
    """Every rater of a channel, in order of name; empty where the fit has no term for raters.

    In a circle of two, each is held against the other; in a larger one against the middle rater of the circle, so
    that one who is far off does not make the rest look off.
    """
    term_span = next(
        (pair for pair in zip(fit.drains.terms, fit.drains.spans(), strict=True) if pair[0].column == RATER_COLUMN),
        None,
    )
    if term_span is None:
        return ()
    term, span = term_span
    assert term.contrasts is not None, "raters are levels"
    effects = fit.coefficients[:, span] @ term.contrasts.T
    counts = _counts(fit.drains.rows, term.levels)
    circles = _circles(fit.drains.rows, term.levels)
    level_of = _level_curve(fit, span)
    found = []
    for at, rater in enumerate(term.levels):
        circle = np.flatnonzero(circles == circles[at])
        others = circle[circle != at]
        drains, units, shared = counts[rater]
        if not others.size:
            found.append(RaterShift(rater, drains, units, shared, (), None, None, np.empty(0)))
            continue
        middle = effects[:, others[0]] if others.size == 1 else np.median(effects[:, circle], axis=1)
        shift = effects[:, at] - middle
        levels = np.interp(shift, _SHIFTS, level_of)
        found.append(
            RaterShift(
                rater,
                drains,
                units,
                shared,
                tuple(term.levels[other] for other in others),
                _points(np.exp(-shift / fit.hours_slope)),
                _points(levels),
                levels,
            )
        )
    return tuple(found)


def levels_per_step(fit: ChannelFit) -> float:
    """Mean rise in levels for a small rise of the linear predictor, over the fleet's drains."""
    level_of = _level_curve(fit, slice(0, 0))
    middle = _SHIFTS.size // 2
    return float((level_of[middle + 1] - level_of[middle - 1]) / (_SHIFTS[middle + 1] - _SHIFTS[middle - 1]))


def _level_curve(fit: ChannelFit, left_out: slice) -> Floats:
    """Mean difference in levels for each of `_SHIFTS` in the linear predictor, at the mode, over the fleet's drains.

    left_out : design columns that do not count, so that all drains are as the average rater saw them.
    """
    rows = np.unique(np.linspace(0, fit.drains.low.size - 1, _MOST_ROWS).astype(np.int64))
    place = {key: at for at, key in enumerate(fit.unit_keys)}
    units = np.array([place[key] for key in fit.drains.units[rows]])
    coefficients = fit.fit.coefficients.copy()
    coefficients[left_out] = 0.0
    slope = fit.fit.hours_slope or 0.0
    seen = slope * fit.drains.log_hours[rows] + fit.drains.design_of(rows) @ coefficients
    seen += fit.fit.unit_effects[units]
    link = fit.fit.objective.likelihood.link
    cuts = fit.fit.thresholds[:, None] - seen
    level = np.array([link.survival(cuts - shift).sum(axis=0).mean() for shift in _SHIFTS])
    return np.asarray(level - level[_SHIFTS.size // 2])


def _pairs(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select(RATER_COLUMN, "unit_key").drop_nulls().unique(maintain_order=True)


def _counts(rows: pl.DataFrame, levels: tuple[str, ...]) -> dict[str, tuple[int, int, int]]:
    """Drains, units, units shared with another rater, of each rater."""
    drains = dict(rows.drop_nulls(RATER_COLUMN).group_by(RATER_COLUMN).len().iter_rows())
    pairs = _pairs(rows).with_columns((pl.len().over("unit_key") > 1).alias("shared"))
    units = {
        rater: (own, shared)
        for rater, own, shared in pairs.group_by(RATER_COLUMN).agg(pl.len(), pl.col("shared").sum()).iter_rows()
    }
    return {rater: (drains[rater], *units[rater]) for rater in levels}


def _circles(rows: pl.DataFrame, levels: tuple[str, ...]) -> Integers:
    """Number of each rater's circle: raters linked by units that both rated, or by a chain of such."""
    pairs = _pairs(rows)
    rater = pairs[RATER_COLUMN].cast(pl.Enum(list(levels))).to_physical().to_numpy().astype(np.int64)
    unit = np.unique(pairs["unit_key"].to_numpy(), return_inverse=True)[1] + len(levels)
    size = int(unit.max()) + 1
    links = coo_array((np.ones(rater.size), (rater, unit)), shape=(size, size))
    circles = connected_components(links.tocsr(), directed=False)[1]
    return np.asarray(circles[: len(levels)], dtype=np.int64)


def _points(draws: Floats) -> tuple[float, float, float]:
    low, median, high = np.quantile(draws, (0.05, 0.5, 0.95))
    return float(median), float(low), float(high)
