"""Which unit a row belongs to, where two sites may have a unit of the same name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding, row_findings


def with_unit_keys(tables: Mapping[str, WorkingTable]) -> dict[str, WorkingTable]:
    """The tables that name units, with `unit_key`, and with blank sites filled in where a unit has one known site.

    A unit is its unit_id. It counts as several units, "unit_id @ site", only where the register has it at several
    sites or where its drains at several sites overlap in time; this is asked about. A unit whose sites follow each
    other in time has moved and stays one unit. A row without a site that may belong to several units is held back.
    """
    sites = _known_sites(tables)
    shared = _shared_ids(tables, sites)
    only = sites.group_by("unit_id").agg(pl.col("site").n_unique().alias("count"), pl.col("site").first())
    only = only.filter(pl.col("count") == 1).select("unit_id", pl.col("site").alias("only_site"))
    done = {
        name: _keyed(working, shared, only=only) if "unit_id" in working.parsed.columns else working
        for name, working in tables.items()
    }
    first = next(iter(done))
    remarks = [
        file_finding(
            "unit_id",
            unit,
            kind="asked",
            message=f"'{unit}' is in use at {sites_named} at once: taken as several units, one for each site",
        )
        for unit, sites_named in shared.sort("unit_id").iter_rows()
    ]
    done[first] = done[first].with_findings(*remarks)
    return done


def rows_of_each_unit(rows: pl.DataFrame, units_in_one_cell: Mapping[str, Sequence[str]]) -> pl.DataFrame:
    """The rows with columns unit_id and unit_key; a row whose cell names several units is there once for each."""
    if not units_in_one_cell:
        return rows
    units = [units_in_one_cell.get(unit, [unit]) for unit in rows.get_column("unit_id")]
    several = pl.col("unit_id").is_in(sorted(units_in_one_cell))
    named = [pl.when(several).then("_unit").otherwise(name).alias(name) for name in ("unit_key", "unit_id")]
    one_by_one = rows.with_columns(pl.Series("_unit", units, dtype=pl.List(pl.String))).explode("_unit")
    return one_by_one.with_columns(named).drop("_unit")


def _known_sites(tables: Mapping[str, WorkingTable]) -> pl.DataFrame:
    """Columns unit_id, site: every pair in the drains and the register."""
    pairs = [
        tables[name].parsed.select("unit_id", "site").drop_nulls() for name in ("drains", "units") if name in tables
    ]
    return pl.concat(pairs).unique().sort("unit_id", "site") if pairs else _no_pairs()


def _no_pairs() -> pl.DataFrame:
    return pl.DataFrame(schema={"unit_id": pl.String, "site": pl.String})


def _shared_ids(tables: Mapping[str, WorkingTable], sites: pl.DataFrame) -> pl.DataFrame:
    """Columns unit_id, sites (in words): names that several units share."""
    shared: set[str] = set()
    if "units" in tables:
        register = tables["units"].parsed.select("unit_id", "site").drop_nulls().unique()
        shared |= set(register.filter(pl.col("unit_id").is_duplicated()).get_column("unit_id"))
    if "drains" in tables:
        several = sites.filter(pl.col("unit_id").is_duplicated()).get_column("unit_id").unique()
        spans = (
            tables["drains"]
            .parsed.select("unit_id", "site", "drained_on")
            .filter(pl.col("unit_id").is_in(several.implode()))
            .drop_nulls()
            .group_by("unit_id", "site")
            .agg(pl.col("drained_on").min().alias("start"), pl.col("drained_on").max().alias("end"))
            .sort("unit_id", "start", "site")
            .with_columns(pl.col("end").cum_max().shift(1).over("unit_id").alias("end_before"))
        )
        shared |= set(spans.filter(pl.col("start") < pl.col("end_before")).get_column("unit_id"))
    return (
        sites.filter(pl.col("unit_id").is_in(sorted(shared)))
        .group_by("unit_id", maintain_order=True)
        .agg(pl.col("site").str.join(" and ").alias("sites"))
    )


def _keyed(working: WorkingTable, shared: pl.DataFrame, *, only: pl.DataFrame) -> WorkingTable:
    named = (
        working.parsed.select("_row", "unit_id", "site")
        .join(only, on="unit_id", how="left", maintain_order="left")
        .join(shared, on="unit_id", how="left", maintain_order="left")
        .with_columns(pl.coalesce("site", "only_site").alias("site"))
    )
    key = (
        pl.when(pl.col("sites").is_null())
        .then(pl.col("unit_id"))
        .otherwise(pl.concat_str(pl.col("unit_id"), pl.lit(" @ "), pl.col("site")))
    )
    named = named.with_columns(key.alias("unit_key"))
    unclear = named.filter(pl.col("sites").is_not_null() & pl.col("site").is_null())
    message = pl.format("is empty, and '{}' is a unit at {}: say which", "unit_id", "sites")
    rows = unclear.select("_row", pl.lit(None, pl.String).alias("site"), message.alias("_message"))
    return working.with_parsed(working.parsed.with_columns(named["site"], named["unit_key"])).with_findings(
        row_findings(rows, "site", kind="held back", message=pl.col("_message"))
    )
