"""One spelling for every name across all tables, with remarks on variants and near matches."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.findings import about_file
from draincurve.pipeline.reading.cleaning.spellings import MOST_ASKED, Spellings, settled_spellings
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable

NAMES = (
    "unit_id",
    "oil_grade",
    "spring_type",
    "rider",
    "rated_by",
    "surface",
    "site",
    "machine",
    "chamber",
    "drain_method",
)
"""Columns whose cells name something that has one spelling."""


def with_one_spelling(tables: Mapping[str, WorkingTable]) -> dict[str, WorkingTable]:
    """The tables with every name in one spelling, drains having the first say."""
    done = dict(tables)
    for name in NAMES:
        having = [table for table in done if name in done[table].typed.columns]
        if not having:
            continue
        spellings = settled_spellings([done[table].typed.get_column(name) for table in having])
        for table in having:
            done[table] = _respelt(done[table], name, spellings)
        done[having[0]] = done[having[0]].with_findings(*_remarks(name, spellings))
    return done


def _respelt(working: WorkingTable, name: str, spellings: Spellings) -> WorkingTable:
    changed = {text: shown for text, shown in spellings.shown.items() if text != shown}
    if not changed:
        return working
    return working.with_typed(working.typed.with_columns(pl.col(name).replace(changed)))


def _remarks(name: str, spellings: Spellings) -> list[pl.DataFrame]:
    remarks = [
        about_file(name, shown, "note", f"{_listed(variants)} are taken as one: '{shown}'")
        for shown, variants in spellings.variants.items()
    ]
    remarks += [
        about_file(name, first, "asked", f"are '{first}' and '{second}' one? They are kept apart")
        for first, second in spellings.near[:MOST_ASKED]
    ]
    more = len(spellings.near) - MOST_ASKED
    if more > 0:
        remarks.append(about_file(name, None, "asked", f"{more} more pairs of names look alike and are kept apart"))
    return remarks


def _listed(names: tuple[str, ...]) -> str:
    return ", ".join(f"'{name}'" for name in names[:-1]) + f" and '{names[-1]}'"
