"""Drains if similar names are one: an oil, spring, rider or unit under two names.

Two names for one thing have an effect each, which can make oil look longer lasting than it is under one of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

NewNames = Mapping[str, Mapping[str, str]]
"""By column, the name that is taken in place of another."""
MERGED = ("oil_grade", "spring_type", "rider")
"""Columns of names that have effects in the models, beside the unit's."""
UNIT = "unit_key"
MOST_PAIRS = 3
"""Pairs of names in one sentence; the others are counted."""


def similar_names_as_one(drains: pl.DataFrame, similar_names: Mapping[str, Sequence[tuple[str, str]]]) -> NewNames:
    """The name taken in place of each other name that may be the same, by column; empty without any.

    drains : accepted rows; similar_names : pairs of names that nobody has answered, by column. The commonest name of
    a group is taken for all of it.
    """
    names = {}
    for column in MERGED:
        if similar_names.get(column):
            names[column] = _shown_names(similar_names[column], _times(drains[column]))
    if similar_names.get("unit_id"):
        key_of = _keys_of_units(drains, {name for pair in similar_names["unit_id"] for name in pair})
        pairs = [(key_of[a], key_of[b]) for a, b in similar_names["unit_id"] if a in key_of and b in key_of]
        names[UNIT] = _shown_names(pairs, _times(drains[UNIT]))
    return {column: shown for column, shown in names.items() if shown}


def renamed(rows: pl.DataFrame, names: NewNames) -> pl.DataFrame:
    """Rows, drains or units, with other names; the frame itself where there are none."""
    changed = [
        pl.col(column).cast(pl.String).replace(dict(shown)).cast(rows.schema[column])
        for column, shown in names.items()
        if column in rows.columns
    ]
    return rows.with_columns(changed) if changed else rows


def names_question(names: NewNames) -> str:
    """What is asked about names, in words that follow "until it is known": whether A is B."""
    pairs = [f"{name} is {shown}" for shown_names in names.values() for name, shown in shown_names.items()]
    more = f" and {len(pairs) - MOST_PAIRS} other names are one" if len(pairs) > MOST_PAIRS else ""
    return f"whether {', '.join(pairs[:MOST_PAIRS])}{more}"


def interpreted_state(state: pl.DataFrame, names: NewNames) -> pl.DataFrame:
    """Units with the names of another interpretation; those that are one have the hours of all on their part."""
    units = renamed(state, names)
    return units.with_columns(pl.col("part_age").sum().over(UNIT)) if UNIT in names else units


def units_of(names: NewNames) -> dict[str, list[str]]:
    """The units that are one, by the unit_key taken for them."""
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
    """For each name that is no longer used, the one taken in its place; both must have drains."""
    pairs = [pair for pair in pairs if times.keys() >= set(pair)]
    group_of: dict[str, set[str]] = {}
    for pair in pairs:
        group = set().union(*(group_of.get(name, {name}) for name in pair))
        group_of |= dict.fromkeys(group, group)
    shown = {name: max(sorted(group), key=lambda shown_name: times[shown_name]) for name, group in group_of.items()}
    return {name: shown_name for name, shown_name in shown.items() if name != shown_name}
