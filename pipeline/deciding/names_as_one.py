"""Decisions on a large fleet if similar names are one: its parameters stay, and effects of units are drawn again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import reduce

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.oil_curves import OilCurves, oil_curves
from draincurve.pipeline.deciding.unit_blocks import joined_curves
from draincurve.pipeline.deciding.unit_scoring import DecidedUnits, decide_units, joined_blocks, shorter_units
from draincurve.pipeline.describing import NewNames, interpreted_state, units_of
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.settings import Settings


def decide_names_as_one(
    known: DecidedUnits,
    oil: OilFit,
    state: pl.DataFrame,
    caps: Mapping[str, Floats],
    hours: Floats,
    settings: Settings,
    *,
    names: NewNames,
    block_units: int,
) -> DecidedUnits:
    """The decisions, with the shorter interval of each unit whose names may be one with others.

    Parameters stay as they are, since some rows move those of a large fleet by little. Effects of units that may be
    one are drawn again, and a name that may be another has the other's effect. names : as `similar_names_as_one`
    gives them; the rest as in `score_units`.
    """
    blocks = [
        (rows, decide_units(curves, {name: cap[rows] for name, cap in caps.items()}, hours[rows], settings))
        for rows, curves in _blocks(oil, state, settings, names=names, block_units=block_units)
    ]
    if not blocks:
        return known
    rows, as_one = np.concatenate([rows for rows, _ in blocks]), joined_blocks([decided for _, decided in blocks])
    others = np.setdiff1d(np.arange(state.height), rows)
    together = joined_blocks([known.rows(others), shorter_units(known.rows(rows), as_one)])
    return together.rows(np.argsort(np.concatenate((others, rows)), kind="stable"))


def curves_with_names_as_one(
    known: OilCurves,
    oil: OilFit,
    state: pl.DataFrame,
    rows: Indices,
    settings: Settings,
    *,
    names: NewNames,
    block_units: int,
) -> OilCurves:
    """The curves of some rows of the state by which `decide_names_as_one` decides, with the same arguments.

    known : the rows' curves with the names as they are, which those have that no name changes
    """
    parts, changed = [known], np.arange(rows.size)
    for block, curves in _blocks(oil, state, settings, names=names, block_units=block_units, wanted=rows):
        inside = np.isin(block, rows)
        changed[np.isin(rows, block)] = sum(part.units for part in parts) + np.arange(inside.sum())
        parts.append(curves.rows(np.flatnonzero(inside)))
    return joined_curves(parts).rows(changed)


def _blocks(
    oil: OilFit,
    state: pl.DataFrame,
    settings: Settings,
    *,
    names: NewNames,
    block_units: int,
    wanted: Indices | None = None,
) -> Iterator[tuple[Indices, OilCurves]]:
    """Blocks of the rows that the names change, ascending, with their curves; wanted : rows of the blocks to give."""
    rows, interpreted = _changed_rows(state, names), interpreted_state(state, names)
    for begin in range(0, rows.size, block_units):
        block = rows[begin : begin + block_units]
        if wanted is not None and not np.isin(block, wanted).any():
            continue
        as_one = _with_units_as_one(oil, interpreted[block], names)
        yield block, oil_curves(as_one, interpreted[block], settings, stream(settings.seed, f"names as one {begin}"))


def _changed_rows(state: pl.DataFrame, names: NewNames) -> Indices:
    """Rows of units that may be one, or that have a name that may be another."""
    in_groups = pl.Series([key for units in units_of(names).values() for key in units], dtype=pl.String)
    other_names = [
        state[column].cast(pl.String).is_in(list(names[column])) for column in names if column != "unit_key"
    ]
    changed = reduce(
        lambda first, second: first | second.fill_null(False),
        other_names,
        state["unit_key"].cast(pl.String).is_in(in_groups.implode()),
    )
    return changed.arg_true().to_numpy().astype(np.intp)


def _with_units_as_one(oil: OilFit, interpreted: pl.DataFrame, names: NewNames) -> OilFit:
    """The fits of some units, one effect for those that may be one.  interpreted : their rows with these names."""
    groups = units_of(names)
    units = {key: groups.get(key, [key]) for key in interpreted["unit_key"].cast(pl.String)}
    return OilFit({channel: fit.with_units_as_one(units) for channel, fit in oil.fits.items()}, oil.joint)
