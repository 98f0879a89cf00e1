"""Drains as they read if names that look alike are one: an oil, spring, rider or unit under two names.

Two names for one thing have an effect each, which can make oil look longer lasting than it is under one of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

NewNames = Mapping[str, Mapping[str, str]]
"""By column, the name that is read in place of another."""
MERGED = ("oil_grade", "spring_type", "rider")
"""Columns of names that have effects in the models, beside the unit's."""
UNIT = "unit_key"


def alike_names_as_one(drains: pl.DataFrame, alike: Mapping[str, Sequence[tuple[str, str]]]) -> NewNames:
    """The name that stands for each other of its group of names that may be one, by column; empty without any.

    drains : accepted rows; alike : pairs of names that nobody has answered, by column. The commonest name of a group
    stands for it.
    """
    found = {}
    for column in MERGED:
        if alike.get(column):
            found[column] = _shown_names(alike[column], _times(drains[column]))
    if alike.get("unit_id"):
        key_of = _keys_of_units(drains, {name for pair in alike["unit_id"] for name in pair})
        pairs = [(key_of[a], key_of[b]) for a, b in alike["unit_id"] if a in key_of and b in key_of]
        found[UNIT] = _shown_names(pairs, _times(drains[UNIT]))
    return {column: shown for column, shown in found.items() if shown}


def renamed(rows: pl.DataFrame, names: NewNames) -> pl.DataFrame:
    """Rows, drains or units, with other names; the frame itself where there are none."""
    changed = [
        pl.col(column).cast(pl.String).replace(dict(shown)).cast(rows.schema[column])
        for column, shown in names.items()
        if column in rows.columns
    ]
    return rows.with_columns(changed) if changed else rows


def state_as_read(state: pl.DataFrame, names: NewNames) -> pl.DataFrame:
    """Units with the names of another reading; units that are one have the hours of all of them on their part."""
    read = renamed(state, names)
    return read.with_columns(pl.col("part_age").sum().over(UNIT)) if UNIT in names else read


def units_of(names: NewNames) -> dict[str, list[str]]:
    """The units that are one, by the unit_key that stands for them."""
    groups: dict[str, list[str]] = {}
    for key, shown in names.get(UNIT, {}).items():
        groups.setdefault(shown, [shown]).append(key)
    return groups


def _times(names: pl.Series) -> dict[str, int]:
    return dict(names.cast(pl.String).drop_nulls().value_counts().iter_rows())


def _keys_of_units(drains: pl.DataFrame, names: set[str]) -> dict[str, str]:
    """The unit_key of each of these unit_id that has drains and is one unit; at two sites it is not."""
    known = drains.select(pl.col("unit_id", UNIT).cast(pl.String)).filter(pl.col("unit_id").is_in(list(names)))
    known = known.unique().filter(pl.col("unit_id").is_unique())
    return dict(known.iter_rows())


def _shown_names(pairs: Sequence[tuple[str, str]], times: Mapping[str, int]) -> dict[str, str]:
    """For each name that stands for nothing any more, the one that stands for it; both must have drains."""
    pairs = [pair for pair in pairs if times.keys() >= set(pair)]
    group_of: dict[str, set[str]] = {}
    for pair in pairs:
        group = set().union(*(group_of.get(name, {name}) for name in pair))
        group_of |= dict.fromkeys(group, group)
    shown = {name: max(sorted(group), key=lambda one: times[one]) for name, group in group_of.items()}
    return {name: one for name, one in shown.items() if name != one}
