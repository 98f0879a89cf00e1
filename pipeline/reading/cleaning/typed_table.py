"""Every cell of a table to its typed value, column by column, each by its kind."""

from __future__ import annotations

from datetime import date
from typing import cast

import polars as pl

from draincurve.pipeline.reading.cleaning.date_cells import ORDERS, Order, read_dates
from draincurve.pipeline.reading.cleaning.distinct_texts import DistinctTexts, distinct_texts
from draincurve.pipeline.reading.cleaning.headers import HeadedTable, headed
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities
from draincurve.pipeline.reading.cleaning.rating_cells import read_ratings
from draincurve.pipeline.reading.cleaning.readings import read_readings
from draincurve.pipeline.reading.cleaning.units_of_measurement import squashed_unit
from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind, read_text, read_yes_no
from draincurve.pipeline.reading.cleaning.working_table import Verdict, WorkingTable, about_file, found, together
from draincurve.pipeline.reading.sources.source_table import FAULT, SourceTable
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES, Column
from draincurve.schemas.settings import Settings

NUMERIC = ("run hours", "standing time", "volume", "oil age", "viscosity", "number", "reading")

_VERDICTS: dict[str, Verdict] = {"reason": "held back", "note": "note"}


def typed_table(source: SourceTable, settings: Settings, as_of: date) -> WorkingTable:
    """The table under the contract's names with typed values, and all that the cells themselves gave away.

    Raises SourceError for headers that cannot be matched. Rows that do not fit the header are findings.
    """
    table = headed(source)
    marks = file_marks(table)
    frames = [table.frame.select("_row", "_line")]
    findings = [table.findings, *[about_file(None, None, "note", note) for note in source.notes]]
    if FAULT in source.frame.columns:
        faults = source.frame.with_row_index("_row").filter(pl.col(FAULT).is_not_null())
        findings.append(found(faults.select("_row", FAULT), "", "held back", pl.col(FAULT)))
    for column in TABLES[source.table]:
        values, pieces = _typed_column(table, column, marks, settings, as_of)
        frames.append(values)
        findings.extend(pieces)
    typed = pl.concat(frames, how="horizontal")
    return WorkingTable(source.table, source.source, table.frame, typed, together(findings))


def file_marks(table: HeadedTable) -> DecimalMarks:
    """What all number columns of the file prove together, for columns that prove nothing themselves."""
    marks = DecimalMarks()
    for column in TABLES[table.table]:
        if column.kind in NUMERIC and column.name in table.frame.columns:
            marks = marks | decimal_marks(table.frame.get_column(column.name))
    return marks


def _typed_column(
    table: HeadedTable, column: Column, marks: DecimalMarks, settings: Settings, as_of: date
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Values of one column, one row each, and its findings."""
    if column.name in table.frame.columns:
        cells = table.frame.get_column(column.name)
    else:
        cells = pl.repeat(None, table.frame.height, dtype=pl.String, eager=True)
    distinct = distinct_texts(cells)
    read, findings = _read(table, column, distinct.texts, marks, settings, as_of)
    beside = [name for name in ("reason", "note", "unit") if name != column.name]
    values = read.drop(beside, strict=False)
    return distinct.spread(values), [*_reasons_and_notes(table, column, distinct, read), *findings]


def _read(
    table: HeadedTable, column: Column, texts: pl.Series, marks: DecimalMarks, settings: Settings, as_of: date
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Values, reason and note of a column's distinct texts, and what they say of the whole file."""
    if column.kind == "text" and column.name != "service_kind":
        return read_text(texts).alias(column.name).to_frame(), []
    if column.kind == "date":
        return _dates(table, column, texts, settings, as_of)
    if column.kind == "rating":
        channel = next(one for one in CHANNELS if one.rating == column.name)
        read = read_ratings(texts, settings.rating_words[channel.name])
        return read.rename({"low": channel.low, "high": channel.high}), []
    if column.kind == "reading":
        read = read_readings(texts, marks | decimal_marks(texts))
        apart = {name: f"reading_{name}" for name in ("unit", "code", "bound")}
        return read.rename({"value": column.name} | apart), []
    if column.kind in NUMERIC:
        return _quantities(table, column, texts, marks)
    read = read_yes_no(texts) if column.kind == "yes/no" else read_service_kind(texts)
    return read.rename({"value": column.name}), []


def _quantities(
    table: HeadedTable, column: Column, texts: pl.Series, marks: DecimalMarks
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    read = read_quantities(texts, column.kind, table.units.get(column.name), marks)
    findings = []
    units = {squashed_unit(unit) for unit in read.get_column("unit").drop_nulls().unique()}
    units.add(squashed_unit(table.units.get(column.name, "")))
    if column.kind == "volume" and units & {"oz", "ozs", "ounce", "ounces", "floz", "fluidounce", "fluidounces"}:
        findings.append(about_file(column.name, None, "note", "ounces are read as US fluid ounces of 29.57 ml"))
    return read.rename({"value": column.name}), findings


def _dates(
    table: HeadedTable, column: Column, texts: pl.Series, settings: Settings, as_of: date
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    read = read_dates(texts, declared_order(table, column.name, settings), as_of)
    findings = []
    if read.order is not None and read.proof is not None:
        message = f"dates are read {read.order}: '{read.proof}' is possible in no other order"
        findings.append(about_file(column.name, read.proof, "note", message))
    return read.frame.rename({"date": column.name}), findings


def declared_order(table: HeadedTable, column: str, settings: Settings) -> Order | None:
    """Order of day and month that the settings or else the header declare; None where it is learnt from the dates."""
    order = settings.date_order if settings.date_order in ORDERS else table.date_orders.get(column)
    return cast("Order | None", order)


def _reasons_and_notes(
    table: HeadedTable, column: Column, distinct: DistinctTexts, read: pl.DataFrame
) -> list[pl.DataFrame]:
    """Findings for the cells that could not be read, and for those read with a note."""
    if not table.frame.height or column.name not in table.frame.columns:
        return []
    findings = []
    for extra, kind in _VERDICTS.items():
        if extra in read.columns and extra != column.name:
            about = read.select(pl.int_range(pl.len()).alias("_place"), distinct.texts.alias(column.name), extra)
            rows = distinct.rows_of(about.drop_nulls(extra), table.frame.get_column("_row"))
            findings.append(found(rows, column.name, kind, pl.col(extra)))
    return findings
