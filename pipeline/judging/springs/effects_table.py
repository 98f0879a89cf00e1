"""The comparison as a table, the columns of schemas/spring_effects_table.py."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

import polars as pl

from draincurve.pipeline.judging.springs.comparison import SpringComparison
from draincurve.schemas.spring_effects_table import COLUMNS, checked_spring_effects

_WHOLE = ("drains", "units", "shared_riders", "shared_oils", "drains_needed")
_WORDS = ("channel", "spring_type", "compared_with", "verdict")
_TYPES = {name: pl.String() if name in _WORDS else pl.Int64() if name in _WHOLE else pl.Float64() for name in COLUMNS}


def spring_effects_table(comparisons: Sequence[SpringComparison]) -> pl.DataFrame:
    """One row per channel and pair; no row where no springs can be compared. Raises ContractError."""
    rows = [{"channel": one.channel} | asdict(pair) for one in comparisons for pair in one.pairs]
    table = pl.DataFrame([{name: row[name] for name in COLUMNS} for row in rows], schema=_TYPES)
    return checked_spring_effects(table)
