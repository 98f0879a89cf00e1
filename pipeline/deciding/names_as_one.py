"""Decisions on a large fleet if similar names are one: its parameters stay, and effects of units are drawn again."""

from __future__ import annotations

from collections.abc import Mapping
from functools import reduce

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.oil_curves import oil_curves
from draincurve.pipeline.deciding.unit_scoring import DecidedUnits, decide_units, joined_blocks, shorter_units
from draincurve.pipeline.describing import NewNames, interpreted_state, units_of
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats
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
    groups = units_of(names)
    keys = state["unit_key"].cast(pl.String)
    in_groups = pl.Series([key for units in groups.values() for key in units], dtype=pl.String)
    other_names = [
        state[column].cast(pl.String).is_in(list(names[column])) for column in names if column != "unit_key"
    ]
    changed = reduce(
        lambda first, second: first | second.fill_null(False), other_names, keys.is_in(in_groups.implode())
    )
    rows = changed.arg_true().to_numpy()
    interpreted, blocks = interpreted_state(state, names), []
    for begin in range(0, rows.size, block_units):
        block = rows[begin : begin + block_units]
        block_state = interpreted[block]
        as_one = oil_with_names_as_one(oil, block_state, names)
        curves = oil_curves(as_one, block_state, settings, stream(settings.seed, f"names as one {begin}"))
        blocks.append(decide_units(curves, {name: cap[block] for name, cap in caps.items()}, hours[block], settings))
    if not blocks:
        return known
    others = np.setdiff1d(np.arange(state.height), rows)
    together = joined_blocks([known.rows(others), shorter_units(known.rows(rows), joined_blocks(blocks))])
    return together.rows(np.argsort(np.concatenate((others, rows)), kind="stable"))


def oil_with_names_as_one(oil: OilFit, interpreted: pl.DataFrame, names: NewNames) -> OilFit:
    """The fits of some units, one effect for those that may be one.  interpreted : their rows with these names."""
    groups = units_of(names)
    units = {key: groups.get(key, [key]) for key in interpreted["unit_key"].cast(pl.String)}
    return OilFit({channel: fit.with_units_as_one(units) for channel, fit in oil.fits.items()}, oil.joint)
