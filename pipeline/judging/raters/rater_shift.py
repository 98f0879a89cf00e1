"""How much dirtier or cleaner each rater rates than the others, from the rater effects of the fit.

Raters can be compared only where they rated the same units: a rater who shares no unit may be harsh, or may have the
dirty units. Nor can they where they rated at different times, since the fleet may have changed in between. Raters
linked by shared units, and separable from the calendar, form a group; each is compared with the others of the group.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from draincurve.pipeline.fitting import SHIFTS, ChannelFit, level_curve
from draincurve.pipeline.judging.estimable_contrasts import hidden_by_calendar
from draincurve.schemas.array_types import Floats, Integers

RATER_COLUMN = "rated_by"


@dataclass(frozen=True, slots=True)
class RaterShift:
    """One rater against the others of the group.

    drains, units : rated by this rater; shared_units : of these units, those that another rater rated too.
    compared_with : the others of the group. multiplier : hours at which this rater gives a level, over the others'
    hours; levels : mean difference [levels], both as (median, 5 %, 95 %), None where there is nobody to compare with.
    level_draws : posterior draws of `levels`, (S,).
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
    def is_reference(self) -> bool:
        """Whether this is the median rater, with whom the others of the group are compared."""
        return self.levels is not None and self.levels[1] == self.levels[2] == 0.0


def rater_shifts(fit: ChannelFit) -> tuple[RaterShift, ...]:
    """Every rater of a channel, in order of name; empty where the fit has no term for raters.

    In a group of two, each is compared with the other; in a larger one with the median of the group, so that one
    outlier does not make the rest look like outliers.
    """
    term_span = next(
        (pair for pair in zip(fit.drains.terms, fit.drains.spans(), strict=True) if pair[0].column == RATER_COLUMN),
        None,
    )
    if term_span is None:
        return ()
    term, span = term_span
    assert term.contrasts is not None, "raters are a categorical term"
    effects = fit.coefficients[:, span] @ term.contrasts.T
    counts = _counts(fit.drains.rows, term.levels)
    groups = _groups(fit.drains.rows, term.levels)
    levels_at = level_curve(fit, span)
    shifts = []
    for index, rater in enumerate(term.levels):
        group = np.flatnonzero(groups == groups[index])
        others = group[group != index]
        drains, units, shared = counts[rater]
        if not others.size:
            shifts.append(RaterShift(rater, drains, units, shared, (), None, None, np.empty(0)))
            continue
        reference = effects[:, others[0]] if others.size == 1 else np.median(effects[:, group], axis=1)
        shift = effects[:, index] - reference
        levels = np.interp(shift, SHIFTS, levels_at)
        shifts.append(
            RaterShift(
                rater,
                drains,
                units,
                shared,
                tuple(term.levels[other] for other in others),
                _median_and_range(np.exp(-shift / fit.hours_slope)),
                _median_and_range(levels),
                levels,
            )
        )
    return tuple(shifts)


def _pairs(rows: pl.DataFrame) -> pl.DataFrame:
    """Each rater with each unit that the rater rated, once."""
    return rows.select(RATER_COLUMN, "unit_key").drop_nulls().unique(maintain_order=True)


def _counts(rows: pl.DataFrame, levels: tuple[str, ...]) -> dict[str, tuple[int, int, int]]:
    """(drains, units, units shared with another rater) of each rater."""
    drains = dict(rows.drop_nulls(RATER_COLUMN).group_by(RATER_COLUMN).len().iter_rows())
    pairs = _pairs(rows).with_columns((pl.len().over("unit_key") > 1).alias("shared"))
    units = {
        rater: (total, shared)
        for rater, total, shared in pairs.group_by(RATER_COLUMN).agg(pl.len(), pl.col("shared").sum()).iter_rows()
    }
    return {rater: (drains[rater], *units[rater]) for rater in levels}


def _groups(rows: pl.DataFrame, levels: tuple[str, ...]) -> Integers:
    """Number of each rater's group: raters linked by units, and by pairs that the calendar does not hide."""
    by_units = _linked_by_units(rows, levels)
    hidden = hidden_by_calendar(rows.drop_nulls(RATER_COLUMN), RATER_COLUMN)
    index_of = {rater: index for index, rater in enumerate(levels)}
    pairs = [(index_of[first], index_of[second]) for (first, second), hides in hidden.items() if not hides]
    linked = np.array([pair for pair in pairs if by_units[pair[0]] == by_units[pair[1]]]).reshape(-1, 2)
    links = coo_array((np.ones(len(linked)), (linked[:, 0], linked[:, 1])), shape=(len(levels), len(levels)))
    return np.asarray(connected_components(links.tocsr(), directed=False)[1], dtype=np.int64)


def _linked_by_units(rows: pl.DataFrame, levels: tuple[str, ...]) -> Integers:
    """Number of each rater's connected component of raters and the units that they rated."""
    pairs = _pairs(rows)
    rater = pairs[RATER_COLUMN].cast(pl.Enum(list(levels))).to_physical().to_numpy().astype(np.int64)
    unit = np.unique(pairs["unit_key"].to_numpy(), return_inverse=True)[1] + len(levels)
    size = int(unit.max()) + 1
    links = coo_array((np.ones(rater.size), (rater, unit)), shape=(size, size))
    groups = connected_components(links.tocsr(), directed=False)[1]
    return np.asarray(groups[: len(levels)], dtype=np.int64)


def _median_and_range(draws: Floats) -> tuple[float, float, float]:
    low, median, high = np.quantile(draws, (0.05, 0.5, 0.95))
    return float(median), float(low), float(high)
