"""Drains as they read if names that look alike are one: an oil, spring or rider under two names.

Two names for one thing have an effect each, which can make oil look longer lasting than it is under one of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

MERGED = ("oil_grade", "spring_type", "rider")
"""Columns of names that have effects in the models."""


def with_alike_names_as_one(
    drains: pl.DataFrame, alike: Mapping[str, Sequence[tuple[str, str]]]
) -> pl.DataFrame | None:
    """The drains with one name for each group of names that may be one, None where no two such names are in use.

    alike : pairs of names that nobody has answered, by column. The commonest name of a group stands for it.
    """
    changed = []
    for column in MERGED:
        names = drains[column].cast(pl.String).drop_nulls()
        times = dict(names.value_counts().iter_rows())
        shown = _shown_names([pair for pair in alike.get(column, ()) if times.keys() >= set(pair)], times)
        if shown:
            changed.append(pl.col(column).cast(pl.String).replace(shown).cast(drains.schema[column]))
    return drains.with_columns(changed) if changed else None


def _shown_names(pairs: Sequence[tuple[str, str]], times: Mapping[str, int]) -> dict[str, str]:
    """For each name that stands for nothing any more, the one that stands for it."""
    group_of: dict[str, set[str]] = {}
    for pair in pairs:
        group = set().union(*(group_of.get(name, {name}) for name in pair))
        group_of |= dict.fromkeys(group, group)
    shown = {name: max(sorted(group), key=lambda one: times[one]) for name, group in group_of.items()}
    return {name: one for name, one in shown.items() if name != one}
