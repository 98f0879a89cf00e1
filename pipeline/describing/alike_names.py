"""Drains as they read if names that look alike are one: an oil, spring or rider under two names.

Two names for one thing have an effect each, which can make oil look longer lasting than it is under one of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

NewNames = Mapping[str, Mapping[str, str]]
"""By column, the name that is read in place of another."""
MERGED = ("oil_grade", "spring_type", "rider")
"""Columns of names that have effects in the models."""


def alike_names_as_one(drains: pl.DataFrame, alike: Mapping[str, Sequence[tuple[str, str]]]) -> NewNames:
    """The name that stands for each other of its group of names that may be one, by column; empty without any.

    drains : accepted rows; alike : pairs of names that nobody has answered, by column. The commonest name of a group
    stands for it.
    """
    found = {}
    for column in MERGED:
        times = dict(drains[column].cast(pl.String).drop_nulls().value_counts().iter_rows())
        shown = _shown_names([pair for pair in alike.get(column, ()) if times.keys() >= set(pair)], times)
        if shown:
            found[column] = shown
    return found


def renamed(rows: pl.DataFrame, names: NewNames) -> pl.DataFrame:
    """Rows, drains or units, with other names; the frame itself where there are none."""
    changed = [
        pl.col(column).cast(pl.String).replace(dict(shown)).cast(rows.schema[column])
        for column, shown in names.items()
        if column in rows.columns
    ]
    return rows.with_columns(changed) if changed else rows


def _shown_names(pairs: Sequence[tuple[str, str]], times: Mapping[str, int]) -> dict[str, str]:
    """For each name that stands for nothing any more, the one that stands for it."""
    group_of: dict[str, set[str]] = {}
    for pair in pairs:
        group = set().union(*(group_of.get(name, {name}) for name in pair))
        group_of |= dict.fromkeys(group, group)
    shown = {name: max(sorted(group), key=lambda one: times[one]) for name, group in group_of.items()}
    return {name: one for name, one in shown.items() if name != one}
