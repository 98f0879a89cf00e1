"""Which limit binds: the channels' hours, the maker's limit, wear, or the range of the data; rounded down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.schemas.array_types import Floats
from draincurve.schemas.errors import ContractError

OIL = "oil"
"""The hours at which the oil is past fit, among the limits; the channel that sets them is named later."""

PRECEDENCE = ("maker_limit", "wear", "data_range", OIL)
"""Of equal limits the first in this order is named: a fixed rule comes before an estimate."""

HOUR_SLACK = 1e-9
"""Relative slack for hours such as 0.3 at a step of 0.1, which are whole steps but for the last binary digit."""

WRITTEN_H = 1e-3
"""Hours are written with 3 decimals."""


@dataclass(frozen=True, slots=True)
class BindingLimit:
    """The binding hours, and what sets them.

    hours : array, shape (n,) [h], before rounding, infinite where nothing limits;  set_by : text, shape
    (n,), None there
    """

    hours: Floats
    set_by: NDArray[np.object_]


def binding_limit(limits: Mapping[str, Floats], rows: int) -> BindingLimit:
    """The smallest of several limits, row by row.

    limits : name out of PRECEDENCE -> array, shape (rows,) [h]; infinite or NaN where that limit does not apply
    Raises ContractError for a name that is not in PRECEDENCE: a limit left out would lengthen an interval.
    """
    unknown = ", ".join(sorted(limits.keys() - set(PRECEDENCE)))
    if unknown:
        raise ContractError(f"limits without a rank: {unknown}; the order of limits names {', '.join(PRECEDENCE)}")
    names = [name for name in PRECEDENCE if name in limits]
    if not names:
        return BindingLimit(np.full(rows, np.inf), np.full(rows, None, dtype=object))
    stacked = np.stack([np.where(np.isnan(limits[name]), np.inf, limits[name]) for name in names])
    hours = stacked.min(axis=0)
    set_by = np.array([*names, None], dtype=object)
    shortest = np.where(np.isfinite(hours), stacked.argmin(axis=0), len(names))
    return BindingLimit(hours, set_by[shortest])


def round_down(hours: Floats, step_h: float) -> Floats:
    """Largest whole number of steps that is not over the hours; infinite hours stay infinite.

    A value within one part in 10^9 under a whole step counts as that step.
    Steps with more decimals than are written lose them downwards, so that writing never rounds up.
    """
    finite = np.isfinite(hours)
    steps = np.floor(np.where(finite, hours, 0.0) / step_h * (1 + HOUR_SLACK))
    written = np.floor(steps * step_h / WRITTEN_H * (1 + HOUR_SLACK)) * WRITTEN_H
    return np.where(finite, written.round(3), np.inf)


def shorter_limit(unit_limit: pl.Series, fleet: float | None) -> Floats:
    """The unit's own limit or the fleet's, whichever is shorter; infinite where neither is set.

    unit_limit : [h] or [days], null where not set. Returns array, shape (n,).
    """
    limits = unit_limit.cast(pl.Float64).fill_null(float("inf")).to_numpy()
    shorter: Floats = np.minimum(limits, np.inf if fleet is None else fleet)
    return shorter


def wear_limit(state: pl.DataFrame) -> Floats:
    """Hours on the oil that runs now until each unit's wear point; infinite where none is known."""
    if "wear_h" not in state.columns:
        return np.full(state.height, np.inf)
    return shorter_limit(state["wear_h"], None)


def data_range_limit(spring_types: pl.Series, longest: pl.DataFrame, factor: float) -> Floats:
    """Factor times the longest fill ever drained on each spring type.

    longest : columns spring_type, longest_h [h]. A spring type that was never drained, or is not known,
    gets the shortest of the known longest fills: unknown is never safe. Infinite where no fill at all is
    known.
    """
    if longest.is_empty():
        return np.full(spring_types.len(), np.inf)
    known = spring_types.to_frame("spring_type").join(longest, on="spring_type", how="left", maintain_order="left")
    shortest = float(longest["longest_h"].to_numpy().min())
    limit: Floats = known["longest_h"].fill_null(shortest).to_numpy() * factor
    return limit
