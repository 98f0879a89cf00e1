"""Cells of measured values: a number, perhaps with a unit or a "<" before it, or a whole ISO 4406 code."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities

_BOUND = r"^\s*(?:<|under\s|below\s|less than\s)\s*"
_CODE = re.compile(
    r"\s*(?:ISO\s*)?((?:(?:>=|≥|>)?\s*\d{1,2}|[*-])(?:\s*/\s*(?:(?:>=|≥|>)?\s*\d{1,2}|[*-])){2})\s*", re.IGNORECASE
)
HIGHEST_CLASS = 28


def read_readings(texts: pl.Series, marks: DecimalMarks) -> pl.DataFrame:
    """Columns value (f64), unit (in the cell, null without one), code ("18/16/13" or null), bound, reason, note.

    texts : String, shape (n,), as typed.  bound : the cell says that the value lies under the number; a laboratory
    writes so of what it could not find. A code's value is the first of its numbers that was counted.
    """
    codes = _codes(texts)
    bound = texts.str.contains(f"(?i){_BOUND}").fill_null(False)
    plain = pl.DataFrame({"text": texts, "code": codes["code"]}).select(
        pl.when(pl.col("code").is_null()).then(pl.col("text").str.replace(f"(?i){_BOUND}", ""))
    )
    read = read_quantities(plain.to_series(), "reading", None, marks)
    return read.with_columns(
        pl.coalesce("value", codes["value"]).alias("value"),
        codes["code"],
        bound.alias("bound"),
        pl.coalesce(codes["reason"], "reason").alias("reason"),
    )


def _codes(texts: pl.Series) -> pl.DataFrame:
    """Columns code, value (first counted number) and reason; null where the cell is no code."""
    distinct = texts.drop_nulls().unique(maintain_order=True)
    found = [(text, *_code(text)) for text in distinct]
    schema = pl.Schema({"text": pl.String, "code": pl.String, "value": pl.Float64, "reason": pl.String})
    codes = pl.DataFrame(found, schema=schema, orient="row")
    return pl.DataFrame({"text": texts}).join(codes, on="text", how="left", maintain_order="left").drop("text")


def _code(text: str) -> tuple[str | None, float | None, str | None]:
    match = _CODE.fullmatch(text)
    if match is None:
        return None, None, None
    code = re.sub(r"\s+", "", match[1])
    numbers = [int(part) for part in re.findall(r"\d+", code)]
    if not numbers or max(numbers) > HIGHEST_CLASS:
        return code, None, f"is no ISO 4406 code: its numbers run from 0 to {HIGHEST_CLASS}"
    if numbers != sorted(numbers, reverse=True):
        return code, None, "is no ISO 4406 code: there cannot be more large particles than small ones"
    return code, float(numbers[0]), None
