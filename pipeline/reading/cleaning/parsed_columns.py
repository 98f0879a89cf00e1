"""The columns of one file to parsed values, each by the kind that the glossary (schemas/columns.py) gives it.

Each kind of cell has one reader:

    text, yes or no, kind of service                        word_cells
    rating                                                  rating_cells
    date                                                    date_cells
    hours, times, volumes, viscosities                      quantity_cells
    measured values                                         measured_cells

A reader gets each distinct text of a column once; its values are then assigned to the rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import cast

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.date_cells import read_dates
from draincurve.pipeline.reading.cleaning.date_findings import date_findings
from draincurve.pipeline.reading.cleaning.date_texts import ORDERS, Order
from draincurve.pipeline.reading.cleaning.ditto_marks import without_dittos
from draincurve.pipeline.reading.cleaning.header_meaning import says_hours_and_minutes
from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.cleaning.likely_minutes import minutes_question, unit_question
from draincurve.pipeline.reading.cleaning.measured_cells import read_measured_values
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities
from draincurve.pipeline.reading.cleaning.rating_cells import read_ratings
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.units_of_measurement import squashed_unit
from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind, read_text, read_yes_no
from draincurve.pipeline.reading.cleaning.working_table import FindingKind, file_finding, row_findings
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import FREE_TEXT, SIGNS, TABLES, Column
from draincurve.schemas.settings import Settings

NUMERIC = ("run hours", "settling time", "volume", "oil age", "viscosity", "number", "reading")
"""Kinds of column that hold numbers."""

LONGEST_NAME = 200
"""Longest name that is read [characters]; a longer one is nearly always a quotation mark that was never closed."""

INVISIBLE = r"\p{Cf}"
"""Marks of direction and joiners that programs put into a text, and that nobody sees."""

_FORMULA_OF_TEXT = r"^\s*=\s*(?:\"(?P<text>[^\"]*)\")\s*$"
"""How programs write a text that a spreadsheet is not to change, such as ="0012"."""
_OUNCES = {"oz", "ozs", "ounce", "ounces", "floz", "fluidounce", "fluidounces"}
_PINTS = {"pt", "pint", "pints", "qt", "qts", "quart", "quarts"}
_FINDINGS: dict[str, FindingKind] = {"reason": "held back", "asked": "asked", "note": "note"}
_ANSWERS = ("proposal", "setting")
"""Columns that readers may give beside their findings."""


@dataclass(frozen=True, slots=True)
class _File:
    """The marks, orders and settings by which the cells of a file are parsed."""

    table: MatchedTable
    marks: DecimalMarks
    settings: Settings
    as_of: date


def parsed_columns(
    table: MatchedTable, settings: Settings, *, as_of: date
) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Parsed values of every column of the contract, null where the file has none; and findings about the cells."""
    file = _File(table, file_marks(table), settings, as_of)
    columns = [_parsed_column(file, column) for column in TABLES[table.table]]
    values = pl.concat([values for values, _ in columns], how="horizontal")
    return values, [finding for _, findings in columns for finding in findings]


def file_marks(table: MatchedTable) -> DecimalMarks:
    """Decimal marks that all number columns of the file prove together, for columns that prove nothing themselves."""
    marks = DecimalMarks()
    for column in TABLES[table.table]:
        if column.kind in NUMERIC and column.name in table.frame.columns:
            marks = marks | decimal_marks(table.frame.get_column(column.name))
    return marks


def declared_order(table: MatchedTable, column: str, *, settings: Settings) -> Order | None:
    """Order of day and month that the settings, or else the header, declare; None where only the dates can tell."""
    order = settings.date_order if settings.date_order in ORDERS else table.date_orders.get(column)
    return cast("Order | None", order)


def distinct_texts(cells: pl.Series) -> tuple[pl.Series, pl.Series]:
    """The distinct texts of a column, in order of appearance, and the position of each cell's text among them.

    cells : String or Categorical, shape (n,); null is one of the texts where a cell is empty. The positions are
    UInt32, shape (n,).
    """
    coded = cells.cast(pl.Categorical)
    texts = coded.unique(maintain_order=True)
    codes = texts.to_physical().cast(pl.Int64)
    empty = int(np.max(codes.drop_nulls().to_numpy(), initial=-1)) + 1  # code of an empty cell
    position_of_code = np.zeros(empty + 1, dtype=np.uint32)
    position_of_code[codes.fill_null(empty).to_numpy()] = np.arange(texts.len(), dtype=np.uint32)
    cells_codes = coded.to_physical()
    cells_codes = cells_codes.fill_null(empty) if coded.has_nulls() else cells_codes
    positions = pl.Series(position_of_code[cells_codes.to_numpy()])
    return texts.cast(pl.String), positions


def _parsed_column(file: _File, column: Column) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Values of one column, one row each, and its findings."""
    frame = file.table.frame
    if column.name not in frame.columns:
        return _of_an_empty_cell(column)[np.zeros(frame.height, dtype=np.uint32)], []
    texts, positions = distinct_texts(frame.get_column(column.name))
    positions, findings = without_dittos(column.name, texts, positions, rows=frame["_row"])
    read, about_column = _read(file, column, texts=texts)
    for extra, kind in _FINDINGS.items():
        if extra in read.columns and extra != column.name:
            answers = [name if name in read.columns else pl.lit(None, pl.String).alias(name) for name in _ANSWERS]
            about = read.select(texts.alias(column.name), extra, *answers)
            about = about.with_row_index("_position").drop_nulls(extra)
            rows = pl.DataFrame({"_row": frame["_row"], "_position": positions})
            rows = rows.join(about, on="_position", how="inner", maintain_order="left")
            texts_of = {"message": pl.col(extra), "proposal": pl.col("proposal"), "setting": pl.col("setting")}
            findings.append(row_findings(rows, column.name, kind=kind, **texts_of))
    if "either" in read.columns and (cells_of_two := int(read["either"][positions].sum())):
        message = f"{cells_of_two} dates that may be two days are read in the order that the other dates show"
        findings.append(file_finding(column.name, None, kind="note", message=message))
    return _values(read, column)[positions], [*findings, *about_column]


def _values(read: pl.DataFrame, column: Column) -> pl.DataFrame:
    """The values that a reader gives, without its findings."""
    beside = [name for name in (*_FINDINGS, *_ANSWERS, "unit", "either") if name != column.name]
    return read.drop(beside, strict=False)


@cache
def _of_an_empty_cell(column: Column) -> pl.DataFrame:
    """The values that the reader of a column gives for an empty cell, one row."""
    nothing = MatchedTable("", pl.DataFrame(), {}, {}, {}, pl.DataFrame())
    file = _File(nothing, DecimalMarks(), Settings(), date.max)
    read, _ = _read(file, column, texts=pl.Series([None], dtype=pl.String))
    return _values(read, column)


def _read(file: _File, column: Column, *, texts: pl.Series) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Values, reason and note of a column's distinct texts, and findings about the whole file."""
    texts = texts.str.replace(_FORMULA_OF_TEXT, "$text")
    if column.kind == "text" and column.name != "service_kind":
        return _read_texts(file, column, texts=texts)
    texts = texts.str.replace_all(INVISIBLE, "")
    if column.kind == "date":
        return _read_dates(file, column, texts=texts)
    if column.kind == "rating":
        channel = next(one for one in CHANNELS if one.rating == column.name)
        read = read_ratings(texts, file.settings.words_of(column.name), channel=channel)
        return read.rename({"low": channel.low, "high": channel.high}), []
    if column.kind == "reading":
        read = read_measured_values(texts, file.marks | decimal_marks(texts))
        apart = {name: f"reading_{name}" for name in ("unit", "code", "bound")}
        return read.rename({"value": column.name} | apart), []
    if column.kind in NUMERIC:
        return _read_quantities(file, column, texts=texts)
    meant, findings = _with_shop_words(file, column, texts=texts)
    read = read_yes_no(meant, column.name) if column.kind == "yes/no" else read_service_kind(meant)
    if column.name in SIGNS:  # in a row that is held back, a word that is no "no" may be a sign
        read = read.with_columns(pl.when(pl.col("reason").is_null()).then("value").otherwise(True).alias("value"))
    return read.rename({"value": column.name}), findings


def _read_texts(file: _File, column: Column, *, texts: pl.Series) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    """Text as it is shown. A name that is too long, or has a line break in it, is held back."""
    read = read_text(texts)
    if column.name in FREE_TEXT:
        return read.alias(column.name).to_frame(), []
    read, findings = _with_shop_words(file, column, texts=read)
    length = read.str.len_chars()
    broken = texts.str.strip_chars().str.contains(r"[\r\n]").fill_null(False)
    if not broken.any() and not (length > LONGEST_NAME).any():
        return read.alias(column.name).to_frame(), findings
    frame = pl.DataFrame({"read": read, "length": length, "broken": broken})
    too_long = pl.format(
        f"has {{}} characters, and a name {LONGEST_NAME} at most: is a quotation mark open?", "length"
    )
    reason = (
        pl.when(pl.col("length") > LONGEST_NAME)
        .then(too_long)
        .when("broken")
        .then(pl.lit("has a line break in it: write the name on one line"))
    )
    frame = frame.with_columns(reason.alias("reason"))
    kept = pl.when(pl.col("reason").is_null()).then("read").alias(column.name)
    proposal = pl.when(pl.col("length") <= LONGEST_NAME, pl.col("broken")).then("read").alias("proposal")
    return frame.select(kept, "reason", proposal), findings


def _with_shop_words(file: _File, column: Column, *, texts: pl.Series) -> tuple[pl.Series, list[pl.DataFrame]]:
    """Texts with the shop's own words replaced by what the settings say, and a note on each."""
    given = {spelling_key(word): meaning for word, meaning in file.settings.words_of(column.name).items()}
    if not given:
        return texts, []
    meant = [text if text is None else given.get(spelling_key(text), text) for text in texts]
    findings = [
        file_finding(column.name, text, kind="note", message=f"'{text}' is read as '{word}', as the settings say")
        for text, word in zip(texts, meant, strict=True)
        if text != word
    ]
    return pl.Series(texts.name, [word or None for word in meant], dtype=pl.String), findings


def _read_quantities(file: _File, column: Column, *, texts: pl.Series) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    named = any(name == column.name and says_hours_and_minutes(header) for header, name in file.table.columns.items())
    declared = file.settings.decimals.get(column.name, "minutes" if named else None)
    unit = file.table.units.get(column.name)
    if declared == "minutes":
        texts = texts.str.replace(r"^(\s*\d{1,4})[.,](\d{1,2}\s*)$", "$1:$2")
    read = read_quantities(texts, column.kind, column_unit=unit, file_marks=file.marks)
    findings = []
    units = {squashed_unit(unit or ""), *map(squashed_unit, read.get_column("unit").drop_nulls().unique())}
    if column.kind == "volume" and units & _OUNCES:
        message = "ounces are read as US fluid ounces of 29.57 ml"
        findings.append(file_finding(column.name, None, kind="note", message=message))
    if column.kind == "volume" and units & _PINTS:
        message = (
            "pints and quarts may be US or imperial ones, a fifth larger: write ml. Until then they are not known"
        )
        findings.append(file_finding(column.name, None, kind="asked", message=message))
        cell_unit = pl.col("unit").fill_null(unit or "").map_elements(squashed_unit, return_dtype=pl.String)
        read = read.with_columns(pl.when(~cell_unit.is_in(_PINTS)).then("value").alias("value"))
    cells = file.table.frame.get_column(column.name) if column.name in file.table.frame.columns else texts
    header = file.table.without_unit.get(column.name)
    question = None if declared else minutes_question(texts, column.kind, header=header, cells=cells)
    if column.kind == "settling time" and header is None:
        question = unit_question(read, texts, unit=unit or "h", cells=cells)
    if question is not None:
        setting = f'[decimals]\n{column.name} = "minutes"  # or "hours"' if question.behind_a_point else None
        findings.append(
            file_finding(column.name, question.value, kind="asked", message=question.message, setting=setting)
        )
    if question is not None and question.unknown:
        read = read.with_columns(pl.when(pl.col("unit").is_not_null()).then("value").alias("value"))
    return read.rename({"value": column.name}), findings


def _read_dates(file: _File, column: Column, *, texts: pl.Series) -> tuple[pl.DataFrame, list[pl.DataFrame]]:
    declared = declared_order(file.table, column.name, settings=file.settings)
    read = read_dates(texts, declared, as_of=file.as_of, planned=file.table.table == "bookings")
    return read.frame.rename({"date": column.name}), date_findings(read, column.name, cells=file.table.frame)
