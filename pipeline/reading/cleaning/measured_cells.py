"""Cells that hold a measured value: a number with a unit, perhaps a bound, or an ISO 4406 code."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities

HIGHEST_ISO_CLASS = 28

_BOUND = r"(?i)^\s*(?:[<>]=?|[≤≥]|(?:under|below|less than|over|above|more than)\s)\s*"
_OVER = r"(?i)^\s*(?:>|≥|over\s|above\s|more than\s)"
_LITTLE = (
    *("trace", "traces", "tr", "tr.", "nd", "n.d.", "n.d", "n/d", "not detected", "none detected", "bdl", "b.d.l."),
    *("<lod", "< lod", "<loq", "< loq", "<dl", "< dl", "below detection", "below detection limit", "nil", "n.n."),
    *("spuren", "nicht nachweisbar", "non détecté", "no detectado", "non rilevato", "traza", "trazas", "tracce"),
)
"""What laboratories write of something that they did not find, or of too little to measure."""
_CODE = re.compile(
    r"\s*(?:ISO\s*)?((?:(?:>=|≥|>)?\s*\d{1,2}|[*-])(?:\s*/\s*(?:(?:>=|≥|>)?\s*\d{1,2}|[*-])){2})\s*", re.IGNORECASE
)


def read_measured_values(texts: pl.Series, marks: DecimalMarks) -> pl.DataFrame:
    """Values of measurements, still in the unit as typed, which depends on the quantity.

    texts : String, shape (n,), as typed. Returns columns value (f64), unit (in the cell, else null), code ("18/16/13"
    or null), bound, reason and note, shape (n,). bound : "under" or "over" where the value is only known to be that
    of the number, "little" where a word such as trace says so without a number. The value of a code is the first of
    its numbers that was counted.
    """
    codes = pl.DataFrame(
        [(None, None, None) if text is None else _iso_code(text) for text in texts],
        schema={"code": pl.String, "value": pl.Float64, "reason": pl.String},
        orient="row",
    )
    text, little = pl.col("text"), pl.col("text").str.strip_chars().str.to_lowercase().is_in(_LITTLE)
    words = pl.DataFrame({"text": texts, "code": codes["code"]})
    bound = words.select(
        pl.when(little).then(pl.lit("little"))
        .when(pl.col("code").is_null() & text.str.contains(_BOUND))
        .then(pl.when(text.str.contains(_OVER)).then(pl.lit("over")).otherwise(pl.lit("under")))
        .alias("bound")
    )  # fmt: skip
    plain = words.select(pl.when(pl.col("code").is_null() & ~little).then(text.str.replace(_BOUND, "")))
    read = read_quantities(plain.to_series(), "reading", column_unit=None, file_marks=marks)
    return read.with_columns(
        pl.coalesce("value", codes["value"]).alias("value"),
        codes["code"],
        bound["bound"],
        pl.coalesce(codes["reason"], "reason").alias("reason"),
    )


def _iso_code(text: str) -> tuple[str | None, float | None, str | None]:
    """Code, value and reason of one text; all None where it is not an ISO 4406 code at all."""
    match = _CODE.fullmatch(text)
    if match is None:
        return None, None, None
    code = re.sub(r"\s+", "", match[1])
    numbers = [int(part) for part in re.findall(r"\d+", code)]
    if not numbers or max(numbers) > HIGHEST_ISO_CLASS:
        return code, None, f"is no ISO 4406 code: its numbers run from 0 to {HIGHEST_ISO_CLASS}"
    if numbers != sorted(numbers, reverse=True):
        return code, None, "is no ISO 4406 code: there cannot be more large particles than small ones"
    return code, float(numbers[0]), None
