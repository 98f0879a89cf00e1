"""Oils by their viscosity instead of their names: when that can be asked, and the column for the rating model.

A grade's name tells nothing of grades not yet run; its viscosity might. It can stand in for the names only where it
is known for every grade that ran or runs, and where there are grades enough for the two to differ.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

VISCOSITY = "log_viscosity"
"""Column of drains and units: log of the kinematic viscosity at 40 C in mm2/s."""

FEWEST_GRADES = 3
"""With two grades a line over viscosity goes through both, so it says the same as their names."""


@dataclass(frozen=True, slots=True)
class OilTerm:
    """How oils enter the models: the oils whose viscosity replaces the names, None where names stay; a sentence."""

    oils: pl.DataFrame | None = None
    words: str = ""


def with_viscosity(rows: pl.DataFrame, oils: pl.DataFrame | None) -> pl.DataFrame:
    """Rows with the viscosity of their oil_grade; as they are where no oils are given."""
    if oils is None:
        return rows
    known = oils.select(pl.col("oil_grade").cast(rows.schema["oil_grade"]), pl.col("kv40").log().alias(VISCOSITY))
    return rows.join(known, on="oil_grade", how="left", maintain_order="left")


def why_names_stay(drains: pl.DataFrame, state: pl.DataFrame, oils: pl.DataFrame) -> str | None:
    """Why viscosity cannot stand in for the oils' names, as a sentence; None where it can be tried.

    drains : accepted oil changes; state : units as they stand; oils : accepted rows, one a grade.
    """
    ran = set(drains["oil_grade"].drop_nulls().to_list())
    runs = set(state["oil_grade"].drop_nulls().to_list())
    viscosity = dict(oils.select("oil_grade", "kv40").drop_nulls().iter_rows())
    unknown = sorted((ran | runs) - set(viscosity))
    if unknown:
        return f"Oils are compared by name, since the viscosity at 40 C is not known of {', '.join(unknown)}."
    if state["oil_grade"].null_count():
        return "Oils are compared by name, since it is not known which oil some unit runs."
    if len(ran) < FEWEST_GRADES:
        return (
            f"Oils are compared by name: with fewer than {FEWEST_GRADES} grades in the log, viscosity and name "
            "cannot be told apart."
        )
    if len({viscosity[name] for name in ran}) < 2:
        return "Oils are compared by name, since all that ran are of one viscosity."
    return None
