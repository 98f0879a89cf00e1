"""Accepted rows as the later stages get them: columns in a fixed order, what was assumed filled in, sorted."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.processing import EVERY_LOG
from draincurve.pipeline.reading.validating.hard_limits import failing_rows
from draincurve.schemas.channels import level_columns
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Settings

COLUMNS: dict[str, tuple[str, ...]] = {
    "drains": (
        "unit_key",
        "unit_id",
        "drained_on",
        "oil_hours",
        "hours_basis",
        "meter_hours",
        "oil_grade",
        "filled_ml",
        "drained_ml",
        "settle_hours",
        "settle_assumed",
        *level_columns(),
        "spring_type",
        "spring_hours",
        "rider",
        "rated_by",
        "surface",
        "site",
        "machine",
        "chamber",
        "drain_method",
        "service_kind",
        "new_parts",
        "note",
        "milky",
        "burnt",
        "leak",
        "source",
        "line",
    ),
    "units": (
        "unit_key",
        "unit_id",
        "machine",
        "position",
        "site",
        "fill_ml",
        "spring_type",
        "oil_grade",
        "rider",
        "max_interval_h",
        "max_oil_days",
        "in_service",
        "source",
        "line",
    ),
    "usage": ("unit_key", "unit_id", "site", "date", "hours", "source", "line"),
    "bookings": ("unit_key", "unit_id", "site", "date", "hours", "event", "source", "line"),
    "oils": ("oil_grade", "kv40", "kv100", "note", "source", "line"),
    "measurements": (
        "unit_key",
        "unit_id",
        "site",
        "measured_on",
        "quantity",
        "value",
        "unit",
        "code",
        "component_hours",
        "rebuilt_on",
        "source",
        "line",
    ),
}
_ORDER: dict[str, tuple[str, ...]] = {
    "drains": ("unit_key", "drained_on", "source", "line"),
    "units": ("unit_key", "source", "line"),
    "usage": ("unit_key", "date", "source", "line"),
    "bookings": ("unit_key", "date", "source", "line"),
    "oils": ("oil_grade", "source", "line"),
    "measurements": ("unit_key", "measured_on", "source", "line"),
}


def finished(table: str, rows: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Accepted rows of a table, ready for the next stage.

    drains : settle_hours [h] is the shop's standard where absent, and settle_assumed says so.
    units : a unit without a word on whether it is in service counts as in service.
    Raises ContractError if a row breaks its schema after all.
    """
    if table == "drains":
        rows = rows.with_columns(
            pl.col("settle_hours").is_null().alias("settle_assumed"),
            pl.col("settle_hours").fill_null(settings.standard_settle_hours),
        )
    if table == "units":
        rows = rows.with_columns(pl.col("in_service").fill_null(True))
    piece = EVERY_LOG.piece_rows
    if any(failing_rows(table, rows.slice(start, piece)).height for start in range(0, rows.height, piece)):
        raise ContractError(f"accepted rows of {table} break their schema: a fault of the program; please report it")
    order = rows.select(pl.arg_sort_by(_ORDER[table])).to_series()
    rows = rows.select(COLUMNS[table])
    # One column after the other, so that a large log is never there twice.
    return pl.DataFrame([rows.drop_in_place(name).gather(order) for name in rows.columns])
