"""Viscosity as a covariate in place of the oils' names, and where it cannot be one.

A name says nothing about grades that have not run yet, a viscosity may. It can replace the names only where it is
known for every grade that ran or runs, and where there are enough grades to tell the two apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

VISCOSITY = "log_viscosity"
"""Column of drains and units: log of the kinematic viscosity at 40 C in mm2/s."""

FEWEST_GRADES = 3
"""With two grades, viscosity and names fit equally well."""


@dataclass(frozen=True, slots=True)
class OilTerm:
    """How oils enter the models: the oils whose viscosity replaces the names, None where names stay; a sentence."""

    oils: pl.DataFrame | None = None
    description: str = ""


def with_viscosity(rows: pl.DataFrame, oils: pl.DataFrame | None) -> pl.DataFrame:
    """The rows with the viscosity of their oil_grade, or as they are without oils."""
    if oils is None:
        return rows
    known = oils.select(pl.col("oil_grade").cast(rows.schema["oil_grade"]), pl.col("kv40").log().alias(VISCOSITY))
    return rows.join(known, on="oil_grade", how="left", maintain_order="left")


def why_names_stay(drains: pl.DataFrame, state: pl.DataFrame, oils: pl.DataFrame) -> str | None:
    """Why viscosity cannot replace the oils' names, as a sentence. None where it can.

    drains : accepted oil changes; state : units in service; oils : accepted rows, one per grade.
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
            "cannot be distinguished."
        )
    if len({viscosity[name] for name in ran}) < 2:
        return "Oils are compared by name, since all that ran are of one viscosity."
    return None
