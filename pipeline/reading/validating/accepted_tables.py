"""Accepted rows: those that no finding holds back, as the later stages get them."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from draincurve.pipeline.processing import EVERY_LOG
from draincurve.pipeline.reading.cleaning.unit_keys import rows_of_each_unit
from draincurve.pipeline.reading.cleaning.working_table import OWN_COLUMNS, WorkingTable
from draincurve.pipeline.reading.validating.hard_limits import failing_rows
from draincurve.pipeline.reading.validating.unit_order import unit_and_day
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Settings

_ADDED = {
    ("drains", "oil_hours"): ("hours_basis", "hours_in_question", "cautious_hours"),
    ("drains", "drained_ml"): ("volumes_in_question", "return_in_question"),
    ("drains", "spring_hours"): ("spring_in_question",),
    ("drains", "settle_hours"): ("settle_assumed",),
    ("drains", "rated_by"): ("people_in_question",),
    ("drains", "leak"): ("warned", "signs_in_question"),
    ("measurements", "unit"): ("code", "bound"),
}
"""Columns that cleaning and validating add, by the table and the column that they follow."""

_ORDER: dict[str, tuple[str, ...]] = {
    "drains": ("_order", "source", "line"),
    "units": ("unit_key", "source", "line"),
    "usage": ("unit_key", "date", "source", "line"),
    "bookings": ("unit_key", "date", "source", "line"),
    "oils": ("oil_grade", "source", "line"),
    "measurements": ("unit_key", "measured_on", "source", "line"),
    "parts": ("unit_kind", "unit_key", "part", "fitted_on", "source", "line"),
}


def _columns(table: str) -> Iterator[str]:
    levels = {channel.rating: (channel.low, channel.high, channel.in_question) for channel in CHANNELS}
    for column in TABLES[table]:
        if column.name == "unit_id":
            yield "unit_key"
        yield from levels.get(column.name, (column.name,))
        yield from _ADDED.get((table, column.name), ())
    yield from ("source", "line")


COLUMNS: dict[str, tuple[str, ...]] = {table: tuple(_columns(table)) for table in TABLES}
"""Columns of each accepted table, in order: those of the glossary, with a rating as its lowest and highest level."""


def accepted_rows(working: WorkingTable) -> pl.DataFrame:
    """Typed rows that no finding holds back, with `source` and `line`."""
    kept = working.parsed.filter(~working.is_held_back) if working.held_back_rows.len() else working.parsed
    origin = {"source": working.source_of_row(), "line": pl.col("_line").cast(pl.Int64)}
    if "drain_source" in kept.columns:
        origin["drain_source"] = working.source_of_row("drain_source")
    return kept.with_columns(**origin).drop(OWN_COLUMNS)


def legible_parts(working: WorkingTable) -> pl.DataFrame:
    """Typed cells of rows that are held back and name a unit; a row that names several is there once for each.

    Rows that do not fit the header are left out, but for drains: what may be a sign in them is one.
    """
    fits = pl.lit(True) if working.table == "drains" else ~working.is_uneven
    rows = working.parsed.filter(working.is_held_back & fits).drop(OWN_COLUMNS)
    if "unit_key" not in rows.columns:
        return rows
    return rows_of_each_unit(rows, working.units_in_one_cell).drop_nulls("unit_key")


def accepted_table(table: str, rows: pl.DataFrame, *, settings: Settings) -> pl.DataFrame:
    """Accepted rows of a table, ready for the next stage: columns in a fixed order, sorted, defaults filled in.

    drains : settle_hours [h] is the shop's standard where absent, and settle_assumed says so.
    units : in service unless the register says otherwise.
    Raises ContractError if a row breaks its schema after all.
    """
    if table == "drains":
        rows = rows.with_columns(
            pl.col("settle_hours").is_null().alias("settle_assumed"),
            pl.col("settle_hours").fill_null(settings.standard_settle_hours),
            unit_and_day(rows, "drained_on").alias("_order"),
        )
    if table == "units":
        rows = rows.with_columns(pl.col("in_service").fill_null(True))
    piece = EVERY_LOG.piece_rows
    if any(failing_rows(table, rows.slice(start, piece)).height for start in range(0, rows.height, piece)):
        raise ContractError(f"accepted rows of {table} break their schema: a fault of the program; please report it")
    order = rows.select(pl.arg_sort_by(_ORDER[table])).to_series()
    rows = rows.select(COLUMNS[table])
    # One column at a time, so that a large log is never in memory twice.
    return pl.DataFrame([rows.drop_in_place(name)[order] for name in rows.columns])
