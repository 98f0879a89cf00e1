"""Rows whose cells may be shifted: a name in one column that is another column's in the rest of the log.

A row from which a cell is missing, or into which one came too many, may still fit the header. Then the spring stands
under the rider, and a rating under the spring.
"""

from __future__ import annotations

from itertools import permutations

import polars as pl

from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, row_findings
from draincurve.schemas.settings import Settings

NAMED = {"unit_id": "a unit", "oil_grade": "an oil", "spring_type": "a spring", "rider": "a rider"}
"""Columns of names that are compared, with what they name."""
SHIFTED = ": are the cells of this row shifted? Put each under its heading"
"""The end of the reason for which such a row is held back."""
COMMON, RARE = 3, 2
"""Times that a name is in its own column at least, and in the other column and beside it at most."""


def with_shifted_rows_held_back(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """The drains with such rows held back, unless the settings have the name among their words for the column."""
    times = {
        column: dict(drains.parsed[column].cast(pl.String).drop_nulls().value_counts().iter_rows())
        for column in NAMED
    }
    findings = []
    for column, own in permutations(NAMED, 2):
        settled = {spelling_key(word) for word in settings.words_of(column)}
        shifted = [
            name
            for name in times[column].keys() & times[own].keys()
            if times[column][name] <= RARE and times[own][name] >= COMMON and spelling_key(name) not in settled
        ]
        if not shifted:
            continue
        rare = [name for name, count in times[own].items() if count <= RARE]
        here, beside = pl.col(column).cast(pl.String), pl.col(own).cast(pl.String)
        rows = drains.parsed.filter(here.is_in(shifted) & beside.is_in(rare).fill_null(True)).select("_row", column)
        message = f"is {NAMED[own]} in other rows{SHIFTED}"
        findings.append(row_findings(rows, column, kind="held back", message=message))
    return drains.with_findings(*findings)
