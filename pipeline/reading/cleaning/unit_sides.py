"""A column of sides beside the unit's, as where fork 1 has a row for its left leg and one for its right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

from draincurve.pipeline.reading.sources.source_table import SourceTable

LEAST_FILLED = 0.8
"""Share of the rows with a side, from which it is a part of the unit's name."""
_WORDS = (
    "l r lh rh left right front rear f links rechts li re vorne vorn hinten gauche droite avant arrière arriere "
    "izquierda derecha izquierdo derecho izq der delantera trasera delantero trasero sinistra destra sx dx anteriore "
    "posteriore"
)
_SIDES = frozenset(_WORDS.split())


def column_of_sides(source: SourceTable, columns: Mapping[str, str], unknown: Sequence[str]) -> str | None:
    """The unknown column that tells the sides of one unit apart, by its name in the frame; None without one.

    columns : column of each header that is used, by its name in the frame
    """
    unit = next((name for name, column in columns.items() if column == "unit_id"), None)
    if unit is None or source.table != "drains":
        return None
    for name in unknown:
        cells = source.frame.select(pl.col(unit).alias("unit"), _side(name)).drop_nulls("unit")
        filled = cells.filter(pl.col("side").fill_null("") != "")
        all_sides = filled.height > 0 and filled["side"].is_in(list(_SIDES)).all()
        if all_sides and filled.height >= LEAST_FILLED * cells.height:
            of_unit = filled.group_by("unit").agg(pl.col("side").n_unique())
            if (of_unit["side"] > 1).any():
                return name
    return None


def holds_sides(cells: pl.Series) -> bool:
    """Whether a column holds sides and nothing else."""
    sides = cells.to_frame("side").select(_side("side")).to_series().drop_nulls()
    return sides.len() > 0 and sides.is_in(list(_SIDES)).all()


def _side(name: str) -> pl.Expr:
    return pl.col(name).cast(pl.String).str.strip_chars(" .()").str.to_lowercase().alias("side")


def with_sides(frame: pl.DataFrame, unit: str, *, side: str) -> pl.DataFrame:
    """The cells with the side behind the unit's name.

    unit, side : names of both columns in the frame
    """
    name, of_row = (pl.col(column).cast(pl.String).str.strip_chars() for column in (unit, side))
    has_both = name.is_not_null() & (of_row.fill_null("") != "")
    joined = pl.when(has_both).then(pl.format("{} {}", name, of_row)).otherwise(pl.col(unit))
    return frame.with_columns(joined.alias(unit))
