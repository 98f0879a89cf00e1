"""The state of each unit in service: what runs in it now, its last drain, its limits and its signs.

A unit without history, one for every spring and oil in use together, has a state too.
"""

from __future__ import annotations

from datetime import date
from functools import partial

import polars as pl

from draincurve.pipeline.describing.drain_methods import method_left, volume_left
from draincurve.pipeline.describing.drain_selection import by_unit_batches, drains_until, oil_changes
from draincurve.pipeline.describing.held_back_facts import LIMITS
from draincurve.pipeline.describing.part_age import AGE_COLUMNS, part_age_now, usual_fill
from draincurve.pipeline.describing.signs import uncleared_signs

_REGISTER_COLUMNS = {
    "machine": pl.String,
    "position": pl.String,
    "site": pl.String,
    "spring_type": pl.String,
    "oil_grade": pl.String,
    "rider": pl.String,
    "max_interval_h": pl.Float64,
    "max_oil_days": pl.Float64,
    "in_service": pl.Boolean,
}

STATE_COLUMNS = (
    "unit_key", "unit_id", "site", "machine", "position", "spring_type", "oil_grade", "rider", "surface", "chamber",
    "drains", "last_drained_on", "spring_hours_now", "part_age_now", "last_shortfall", "usual_hours",
    "max_interval_h", "max_oil_days", "limit_borrowed", "signs",
)  # fmt: skip

_OF_LAST_DRAIN = (
    "unit_id", "site", "machine", "spring_type", "oil_grade", "rider", "surface", "chamber", "spring_hours",
)  # fmt: skip
_NEEDED = (*AGE_COLUMNS, *_OF_LAST_DRAIN, "drained_on", "filled_ml", "drained_ml", "drain_method")


def fleet_state(
    drains: pl.DataFrame, units: pl.DataFrame | None, *, as_of: date, signs_only: pl.DataFrame | None = None
) -> pl.DataFrame:
    """One row per unit in service, sorted by unit_key, with the columns STATE_COLUMNS.

    drains : accepted rows; those after `as_of` are left out
    units : the register, or None. A unit that only the register or only the log names is in service. For what runs in
    the unit now the register takes precedence over the log
    signs_only : as in `uncleared_signs`

    Of the columns, drains is the number of oil changes and usual_hours the median fill [h], and
    spring_hours_now : [h], null where the register names another spring than the last drain
    part_age_now : hours on the part when the present fill began [h], 0 without drains
    last_shortfall : 1 - drained / filled of the last drain, within 0 and 0.5. Where its volumes are not known, the
    larger of the greatest usual share of its drain method and the fleet's 90 % point
    limit_borrowed : whether a limit is that of other units, since the register has none for this one
    """
    known = drains_until(drains, as_of)
    changes = oil_changes(known, [name for name in _NEEDED if name in known.columns])
    last = _with_cautious_shortfall(by_unit_batches(changes, partial(_last_change, usual_hours=usual_fill(known))))
    register = _register(units)
    joined = register.join(last, on="unit_key", how="full", coalesce=True, suffix="_drained")
    state = joined.with_columns(
        pl.coalesce("unit_id", "unit_id_drained").alias("unit_id"),
        _spring_hours_now().alias("spring_hours_now"),
        *(
            pl.coalesce(name, f"{name}_drained").alias(name)
            for name in ("site", "machine", "spring_type", "oil_grade", "rider")
        ),
        pl.col("drains").fill_null(0),
        pl.col("part_age_now").fill_null(0.0),
    )
    return (
        _with_borrowed_limits(state)
        .filter(pl.col("in_service").fill_null(True))
        .join(uncleared_signs(known, signs_only), on="unit_key", how="left")
        .select(STATE_COLUMNS)
        .sort("unit_key")
    )


def new_unit_rows(drains: pl.DataFrame, state: pl.DataFrame) -> pl.DataFrame:
    """One row per spring type and oil grade in use, sorted by both, with the number of drains and units behind it.

    drains : accepted drains; state : as `fleet_state` gives it. A unit without history starts on a new spring with no
    old oil in it (spring_hours_now, part_age_now and last_shortfall are 0). Its rider and site are not known.
    """
    spring_and_oil = ["spring_type", "oil_grade"]
    changes = oil_changes(drains, ["unit_key", *spring_and_oil])
    counts = (
        changes.group_by(spring_and_oil)
        .agg(pl.len().cast(pl.Int64).alias("drains"), pl.col("unit_key").n_unique().cast(pl.Int64).alias("units"))
        .with_columns(pl.col(spring_and_oil).cast(pl.String))
    )
    in_use = pl.concat([counts.select(spring_and_oil), state.select(spring_and_oil).drop_nulls()]).unique()
    return (
        in_use.join(counts, on=spring_and_oil, how="left")
        .with_columns(
            pl.col("drains", "units").fill_null(0),
            pl.concat_str(pl.lit("new unit on "), "spring_type", pl.lit(" / "), "oil_grade").alias("unit_key"),
            pl.lit(0.0).alias("spring_hours_now"),
            pl.lit(0.0).alias("part_age_now"),
            pl.lit(0.0).alias("last_shortfall"),
        )
        .sort(spring_and_oil)
    )


def units_in_service(drains: pl.DataFrame, units: pl.DataFrame | None) -> int:
    """Number of units in service, without their state.

    drains : accepted rows; units : the register, or None.
    """
    keys = drains["unit_key"].unique()
    if units is None:
        return keys.len()
    out = units.filter(~pl.col("in_service").fill_null(True))["unit_key"]
    return int((~pl.concat([keys, units["unit_key"]]).unique().is_in(out.implode())).sum())


def longest_fill(drains: pl.DataFrame) -> pl.DataFrame:
    """Longest fill ever drained on each spring type, which is the range of the data: spring_type, longest_h [h]."""
    return (
        oil_changes(drains, ["spring_type", "oil_hours"])
        .drop_nulls()
        .group_by("spring_type")
        .agg(pl.col("oil_hours").max().alias("longest_h"))
        .with_columns(pl.col("spring_type").cast(pl.String))
        .sort("spring_type")
    )


def _last_change(changes: pl.DataFrame, *, usual_hours: float) -> pl.DataFrame:
    """One row per unit: number of oil changes, median fill, hours on the part, and the last oil change."""
    last = {name: pl.col(name).last() for name in _OF_LAST_DRAIN}
    ordered = changes.sort("unit_key", "drained_on", "oil_hours", maintain_order=True)
    return ordered.group_by("unit_key", maintain_order=True).agg(
        *(
            column.cast(pl.String) if changes.schema[name] == pl.Categorical else column
            for name, column in last.items()
        ),
        pl.len().cast(pl.Int64).alias("drains"),
        pl.col("drained_on").last().alias("last_drained_on"),
        volume_left().clip(0.0, 0.5).last().alias("last_shortfall"),
        method_left(changes, dirtier=True).last().alias("by_method"),
        pl.col("oil_hours").median().alias("usual_hours"),
        part_age_now(usual_hours).alias("part_age_now"),
    )


def _with_cautious_shortfall(last: pl.DataFrame) -> pl.DataFrame:
    """The last changes with a shortfall where their volumes are not known and their drain method is."""
    # An assumed shortfall must not be better than measured ones, so it is at least the fleet's 90 % point.
    cautious = pl.max_horizontal("by_method", pl.col("last_shortfall").quantile(0.9))
    by_method = pl.when(pl.col("by_method").is_not_null()).then(cautious)
    return last.with_columns(pl.coalesce("last_shortfall", by_method).alias("last_shortfall"))


def _register(units: pl.DataFrame | None) -> pl.DataFrame:
    """The register with all of its columns, typed; without rows where there is none."""
    if units is None:
        units = pl.DataFrame(schema={"unit_key": pl.String, "unit_id": pl.String})
    columns = [
        (pl.col(name) if name in units.columns else pl.lit(None)).cast(kind).alias(name)
        for name, kind in _REGISTER_COLUMNS.items()
    ]
    return units.select("unit_key", "unit_id", *columns).unique("unit_key", keep="last", maintain_order=True)


def _spring_hours_now() -> pl.Expr:
    """Hours on the spring in the unit now; unknown where the register names another than the last drain."""
    same = pl.col("spring_type").is_null() | (pl.col("spring_type") == pl.col("spring_type_drained"))
    return pl.when(same).then(pl.col("spring_hours"))


def _with_borrowed_limits(state: pl.DataFrame) -> pl.DataFrame:
    """Missing limits filled with the shortest of the same position in the register, or else the shortest of all."""
    with_limits = state.with_columns(
        pl.coalesce(
            name,
            pl.when(pl.col("position").is_not_null()).then(pl.col(name).min().over("position")),
            pl.col(name).min(),
        ).alias(f"{name}_found")
        for name in LIMITS
    )
    borrowed = pl.any_horizontal(pl.col(name).is_null() & pl.col(f"{name}_found").is_not_null() for name in LIMITS)
    return with_limits.with_columns(borrowed.alias("limit_borrowed")).with_columns(
        pl.col(f"{name}_found").alias(name) for name in LIMITS
    )
