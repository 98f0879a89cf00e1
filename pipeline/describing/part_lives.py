"""The parts in each unit in service: when they were fitted, the maker's longest life, and their limits of wear."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.describing.wear_limits import LimitKey, WearLimit, limits_of, tighter

_TEXTS, _HOURS = ("unit_key", "unit_id", "site", "part"), ("fitted_at_h", "max_hours", "max_days")
LIVES = pl.Schema(
    [
        *((name, pl.String()) for name in _TEXTS),
        ("fitted_on", pl.Date()),
        *((name, pl.Float64()) for name in _HOURS),
        ("quantities", pl.List(pl.String())),
    ]
)
UnitLimits = dict[str, dict[LimitKey, WearLimit]]
"""Limits of wear by unit_key."""


def lives_of_parts(parts: pl.DataFrame, state: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """One row for each part of each unit in service, as LIVES, in the order of `state`.

    parts, units : accepted rows, the register or None; state : as `fleet_state` gives it. The newest day of fitting
    of a unit's part counts. The longest lives are the shortest of the unit's rows for this fitting and of its kind's.
    """
    rows = _rows_of_units(parts, state, units)
    newest = pl.col("fitted_on").max().over("unit_key", "_part")
    current = rows.filter(pl.col("_of_kind") | (pl.col("fitted_on") == newest).fill_null(True) | newest.is_null())
    lives = current.group_by("unit_key", "_part").agg(
        pl.col("part").first(),
        pl.col("fitted_on").max(),
        pl.col("fitted_at_h").max(),
        pl.col("max_hours").min(),
        pl.col("max_days").min(),
        pl.col("quantity").drop_nulls().unique(maintain_order=True).alias("quantities"),
    )
    named = state.select("unit_key", "unit_id", "site").with_row_index("_order")
    return named.join(lives, on="unit_key").sort("_order", "_part").select(LIVES.names()).cast(LIVES)


def unit_limits(parts: pl.DataFrame, state: pl.DataFrame, units: pl.DataFrame | None) -> UnitLimits:
    """Limits of wear by unit, the tighter one where several hold."""
    limits_by_unit: UnitLimits = {}
    limited = _rows_of_units(parts, state, units).drop_nulls(["quantity", "wear_limit"])
    for key, part, quantity, text in limited.select("unit_key", "part", "quantity", "wear_limit").iter_rows():
        limits = limits_by_unit.setdefault(key, {})
        for name, limit in limits_of(quantity, text, f"the limit of its {part}"):
            limits[name] = limit if name not in limits else tighter(limits[name], limit)
    return limits_by_unit


def with_fleet_limits(
    unit: Mapping[LimitKey, WearLimit], fleet: Mapping[LimitKey, WearLimit]
) -> dict[LimitKey, WearLimit]:
    """Limits of one unit: the tighter of its own and the fleet's."""
    both = dict(fleet)
    for key, limit in unit.items():
        both[key] = limit if key not in both else tighter(both[key], limit)
    return both


def _rows_of_units(parts: pl.DataFrame, state: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """The rows of each unit in service, its own and its kind's, with _of_kind and the squashed name _part."""
    nobody = pl.DataFrame(schema={"unit_key": pl.String, "unit_kind": pl.String})
    kinds = nobody if units is None else units.select("unit_key", "unit_kind").drop_nulls()
    keyed = parts.with_columns(
        pl.col("unit_id").is_null().alias("_of_kind"),
        pl.col("part").str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}]", "").alias("_part"),
        _squashed("unit_kind").alias("_kind"),
    ).drop("unit_id", "site", "unit_kind")
    named = state.select("unit_key").join(kinds.with_columns(_squashed("unit_kind").alias("_kind")), on="unit_key")
    of_unit = keyed.filter(~pl.col("_of_kind")).join(state.select("unit_key"), on="unit_key")
    of_kind = keyed.filter("_of_kind").drop("unit_key").join(named.select("unit_key", "_kind"), on="_kind")
    return pl.concat([of_unit, of_kind.select(of_unit.columns)])


def _squashed(name: str) -> pl.Expr:
    return pl.col(name).str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}]", "")


def kinds_without_units(parts: pl.DataFrame, units: pl.DataFrame | None) -> tuple[str, ...]:
    """Kinds in the table of parts that no unit of the register is of: their rows limit nothing."""
    wanted = parts.filter(pl.col("unit_id").is_null())["unit_kind"].drop_nulls().unique(maintain_order=True)
    known = set() if units is None else set(units.select(_squashed("unit_kind")).to_series().drop_nulls())
    spelt = wanted.to_frame("unit_kind").select(_squashed("unit_kind")).to_series()
    return tuple(kind for kind, key in zip(wanted, spelt, strict=True) if key not in known)
