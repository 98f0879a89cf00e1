"""Each unit as it stands: what runs in it now, its last drain, its limits, and signs that nobody has cleared."""

from __future__ import annotations

from datetime import date

import polars as pl

from draincurve.pipeline.describing.categorical_names import as_texts
from draincurve.pipeline.describing.drain_methods import method_left, volume_left
from draincurve.pipeline.describing.drain_selection import by_unit_batches, drains_until, oil_changes
from draincurve.pipeline.describing.held_back_facts import SIGNS
from draincurve.schemas.channels import CHANNELS

REGISTER_ONLY = {
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
    "drains", "last_drained_on", "spring_hours_now", "last_shortfall", "usual_hours", "max_interval_h",
    "max_oil_days", "limit_borrowed", "signs",
)  # fmt: skip


_ASKED = (
    "unit_key", "unit_id", "site", "machine", "spring_type", "oil_grade", "rider", "surface", "chamber", "drained_on",
    "oil_hours", "spring_hours", "filled_ml", "drained_ml", "drain_method",
)  # fmt: skip


def fleet_state(
    drains: pl.DataFrame, units: pl.DataFrame | None, as_of: date, signs_only: pl.DataFrame | None = None
) -> pl.DataFrame:
    """One row per unit in service, in order of unit_key.

    drains : accepted rows; those after `as_of` are not known yet and are left out
    units : the register, or None; a unit only in the register or only in the log is in Returns the columns
    of STATE_COLUMNS. Register values stand over the log's for what runs in the unit now; `last_shortfall`
    is 1 - drained/filled of the last drain, held to 0..0.5, or where that is not known the larger of what its way of
    draining leaves at most and the fleet's 90 % point; `spring_hours_now` [h] is null when the register names another
    spring than the last drain; `usual_hours` [h] is the median fill. A limit that
    the register lacks for a unit while it has it for others is borrowed (`limit_borrowed`): unknown is
    never safe.
    """
    known = drains_until(drains, as_of)
    changes = oil_changes(known, [name for name in _ASKED if name in known.columns])
    last = _with_careful_shortfall(by_unit_batches(changes, _last_change))
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
    )
    return (
        _with_borrowed_limits(state)
        .filter(pl.col("in_service").fill_null(True))
        .join(standing_signs(known, signs_only), on="unit_key", how="left")
        .select(STATE_COLUMNS)
        .sort("unit_key")
    )


def units_in_service(drains: pl.DataFrame, units: pl.DataFrame | None) -> int:
    """How many rows `fleet_state` has, counted without making them.

    drains : accepted rows, all of them known; units : the register, or None.
    """
    keys = drains["unit_key"].unique()
    if units is None:
        return keys.len()
    out = units.filter(~pl.col("in_service").fill_null(True))["unit_key"]
    return int((~pl.concat([keys, units["unit_key"]]).unique().is_in(out.implode())).sum())


def inspect_now(drains: pl.DataFrame, signs_only: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """Units with a sign that stands, with the day of their last drain: unit_id, site, drained_on, signs.

    signs_only : held-back rows that show a sign; units : the register, by which units out of service are left out.
    """
    named = ["unit_id", "site", "drained_on"]
    found = standing_signs(drains, signs_only)
    rows = pl.concat(
        [
            table.select("unit_key", *named).filter(pl.col("unit_key").is_in(found["unit_key"].implode()))
            for table in (drains, signs_only)
        ]
    )
    last = rows.sort("drained_on", maintain_order=True).group_by("unit_key").agg(pl.col(named).last())
    found = found.join(last, on="unit_key", how="left")
    if units is not None:
        found = found.join(units.filter(~pl.col("in_service")), on="unit_key", how="anti")
    return as_texts(found.sort("unit_key").select(*named, "signs"))


def longest_fill(drains: pl.DataFrame) -> pl.DataFrame:
    """Longest fill ever drained on each spring type: columns spring_type, longest_h [h]; the range of the data."""
    return (
        oil_changes(drains, ["spring_type", "oil_hours"])
        .drop_nulls()
        .group_by("spring_type")
        .agg(pl.col("oil_hours").max().alias("longest_h"))
        .with_columns(pl.col("spring_type").cast(pl.String))
        .sort("spring_type")
    )


def _last_change(changes: pl.DataFrame) -> pl.DataFrame:
    """Count, median fill and what the last oil change says, one row per unit."""
    as_it_ran = {
        name: pl.col(name).last()
        for name in (
            "unit_id", "site", "machine", "spring_type", "oil_grade", "rider", "surface", "chamber", "spring_hours",
        )
    }  # fmt: skip
    ordered = changes.sort("unit_key", "drained_on", "oil_hours", maintain_order=True)
    return ordered.group_by("unit_key", maintain_order=True).agg(
        *(one.cast(pl.String) if changes.schema[name] == pl.Categorical else one for name, one in as_it_ran.items()),
        pl.len().cast(pl.Int64).alias("drains"),
        pl.col("drained_on").last().alias("last_drained_on"),
        volume_left().clip(0.0, 0.5).last().alias("last_shortfall"),
        method_left(changes, dirtier=True).last().alias("by_method"),
        pl.col("oil_hours").median().alias("usual_hours"),
    )


def _with_careful_shortfall(last: pl.DataFrame) -> pl.DataFrame:
    """The last change with what stayed behind at it where its volumes are not known."""
    # What is not known must not be cleaner than what is: a drain method only ever adds to the fleet's own worst.
    careful = pl.max_horizontal("by_method", pl.col("last_shortfall").quantile(0.9))
    by_method = pl.when(pl.col("by_method").is_not_null()).then(careful)
    return last.with_columns(pl.coalesce("last_shortfall", by_method).alias("last_shortfall"))


def _register(units: pl.DataFrame | None) -> pl.DataFrame:
    """The register with every column it may have, typed; empty without one."""
    if units is None:
        units = pl.DataFrame(schema={"unit_key": pl.String, "unit_id": pl.String})
    columns = [
        (pl.col(name) if name in units.columns else pl.lit(None)).cast(kind).alias(name)
        for name, kind in REGISTER_ONLY.items()
    ]
    return units.select("unit_key", "unit_id", *columns).unique("unit_key", keep="last", maintain_order=True)


def _spring_hours_now() -> pl.Expr:
    """Hours on the spring that runs now: unknown once the register names another than the last drain."""
    same = pl.col("spring_type").is_null() | (pl.col("spring_type") == pl.col("spring_type_drained"))
    return pl.when(same).then(pl.col("spring_hours"))


def _with_borrowed_limits(state: pl.DataFrame) -> pl.DataFrame:
    """A missing limit is the shortest that the register gives in the same position, else the shortest of all."""
    limits = ("max_interval_h", "max_oil_days")
    found = state.with_columns(
        pl.coalesce(
            name,
            pl.when(pl.col("position").is_not_null()).then(pl.col(name).min().over("position")),
            pl.col(name).min(),
        ).alias(f"{name}_found")
        for name in limits
    )
    borrowed = pl.any_horizontal(pl.col(name).is_null() & pl.col(f"{name}_found").is_not_null() for name in limits)
    return found.with_columns(borrowed.alias("limit_borrowed")).with_columns(
        pl.col(f"{name}_found").alias(name) for name in limits
    )


def standing_signs(known: pl.DataFrame, signs_only: pl.DataFrame | None = None) -> pl.DataFrame:
    """Signs that stand: seen, and not cleared since. Columns unit_key, signs ("milky, leak").

    signs_only : further rows, held back, that can show a sign but clear none (see held_back_parts).
    """
    asked = ("unit_key", "drained_on", "oil_hours", "service_kind")
    rated = {sign.name: pl.col(channel.high) >= sign.level for channel in CHANNELS if (sign := channel.sign)}
    names = (*SIGNS, *rated)
    signs = [pl.col(name).cast(pl.Boolean) for name in SIGNS]
    rows = pl.concat([table.select(*asked, *signs, **rated) for table in (known, signs_only) if table is not None])
    writes_no = {name: not rows[name].all() for name in SIGNS}
    seen = rows.select(pl.any_horizontal(pl.col(name).fill_null(False) for name in names)).to_series()
    ordered = (
        rows.filter(pl.col("unit_key").is_in(rows["unit_key"].filter(seen).unique().implode()))
        .sort("unit_key", "drained_on", "oil_hours", maintain_order=True)
        .with_columns(pl.int_range(pl.len()).over("unit_key").alias("place"))
    )
    stands = [_stands(name, writes_no.get(name, True)).alias(name) for name in names]
    words = [pl.when(pl.col(name)).then(pl.lit(name)) for name in names]
    return (
        ordered.group_by("unit_key")
        .agg(stands)
        .select("unit_key", pl.concat_str(words, separator=", ", ignore_nulls=True).alias("signs"))
        .filter(pl.col("signs") != "")
    )


def _stands(name: str, writes_no: bool) -> pl.Expr:
    """Whether a sign was seen and no later drain cleared it.

    A later drain clears a sign by an explicit "no", a later rebuild clears it in any case. A blank clears
    it only in a log that never writes "no" for that sign, where blank is how "no" is written; elsewhere
    blank is unknown. A top-up can show a sign but not clear one.

    writes_no : whether the log writes "no" for the sign.
    """
    seen = pl.col(name).fill_null(False)
    kind = pl.col("service_kind").fill_null("oil")
    clean = ~pl.col(name).fill_null(writes_no)
    clears = ~seen & (((kind == "rebuild") | clean) & (kind != "top-up"))
    last_seen = pl.col("place").filter(seen).max()
    last_cleared = pl.col("place").filter(clears).max()
    return (last_seen.is_not_null() & (last_cleared.fill_null(-1) < last_seen)).fill_null(False)
