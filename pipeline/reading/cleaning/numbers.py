"""Numbers as people write them. Whether comma or dot marks the decimals is found from the whole column."""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

PLAIN = r"^\s*[+-]?\d+(\.\d+)?([eE][+-]?\d{1,3})?\s*$"
"""Text that is a number in one way only, but for a dot before three digits, which the column decides."""

_DOT_GROUP = r"^\s*[+-]?[1-9]\d{0,2}\.\d{3}\s*$"
_DECIMAL_COMMA = r"^\s*[+-]?(\d+,(\d{1,2}|\d{4,})|0+,\d+|\d{4,},\d+)\s*$"
_PROOFS = {
    "both_us": r"^\d{1,3}(,\d{3})+\.\d+$",
    "both_eu": r"^\d{1,3}(\.\d{3})+,\d+$",
    "comma_decimal": r"^(\d+,(\d{1,2}|\d{4,})|0+,\d+|\d{4,},\d+)$",
    "comma_thousands": r"^[1-9]\d{0,2}(,\d{3}){2,}$",
    "dot_decimal": r"^(\d+\.(\d{1,2}|\d{4,})|0+\.\d+|\d{4,}\.\d+)$",
    "dot_thousands": r"^[1-9]\d{0,2}(\.\d{3}){2,}$",
}
"""What a number must look like to prove how a mark is used; the first two have both marks."""


@dataclass(frozen=True, slots=True)
class DecimalMarks:
    """Uses of comma and dot that are proved by at least one cell."""

    comma_decimal: bool = False
    comma_thousands: bool = False
    dot_decimal: bool = False
    dot_thousands: bool = False

    def __or__(self, other: DecimalMarks) -> DecimalMarks:
        return DecimalMarks(
            self.comma_decimal or other.comma_decimal,
            self.comma_thousands or other.comma_thousands,
            self.dot_decimal or other.dot_decimal,
            self.dot_thousands or other.dot_thousands,
        )


@dataclass(frozen=True, slots=True)
class ReadNumber:
    """A number, or the reason why the text is not one."""

    value: float | None
    reason: str | None = None


def decimal_marks(texts: pl.Series) -> DecimalMarks:
    """What the cells of a column prove: "41,5" a decimal comma, "1,234.5" a comma between thousands."""
    cell = pl.col("text").drop_nulls().unique().cast(pl.String)
    number = cell.str.extract(r"(\d[\d.,]*)", 1).str.strip_chars_end(".,").drop_nulls().alias("number")
    numbers = texts.to_frame("text").select(number)
    proved = numbers.select(
        pl.col("number").str.contains(pattern).any().alias(use) for use, pattern in _PROOFS.items()
    ).row(0, named=True)
    return DecimalMarks(
        comma_decimal=proved["both_eu"] or proved["comma_decimal"],
        comma_thousands=proved["both_us"] or proved["comma_thousands"],
        dot_decimal=proved["both_us"] or proved["dot_decimal"],
        dot_thousands=proved["both_eu"] or proved["dot_thousands"],
    )


def read_number(text: str, marks: DecimalMarks) -> ReadNumber:
    """The value of a number without unit and sign.

    "1,234" may be 1234 or 1.234: the column's other cells decide; where they do not, there is a reason and no value.
    A dot before three digits is a decimal point unless the column proves otherwise.
    """
    digits = re.sub(r"(?<=\d)[ \u00a0\u2009\u202f'’](?=\d{3}(?:\D|$))", "", text.strip())
    if not re.fullmatch(r"[\d.,]*\d", digits):
        return ReadNumber(None, "is not a number: write it such as 12.5")
    if "," in digits and "." in digits:
        return _both_marks(digits)
    mark = "," if "," in digits else "."
    if digits.count(mark) > 1:
        if re.fullmatch(rf"\d{{1,3}}(\{mark}\d{{3}})+", digits):
            return ReadNumber(float(digits.replace(mark, "")))
        return ReadNumber(None, "is not a number: write it such as 12.5")
    if not re.fullmatch(rf"[1-9]\d{{0,2}}\{mark}\d{{3}}", digits):
        return ReadNumber(float(digits.replace(",", ".")))
    use = _meaning_of_comma(marks) if mark == "," else _meaning_of_dot(marks)
    if use is None:
        whole, decimal = digits.replace(mark, ""), digits.replace(mark, ".")
        return ReadNumber(None, f"may be {whole} or {decimal}: write it without a mark between thousands")
    return ReadNumber(float(digits.replace(mark, "" if use == "thousands" else ".")))


def plain_numbers(texts: pl.Series, marks: DecimalMarks) -> pl.Series:
    """Values of the cells that are plain numbers, null for all others; vectorised, shape (n,)."""
    cell = pl.col("text")
    plain = cell.str.contains(PLAIN)
    if marks.comma_decimal or marks.dot_thousands:
        plain = plain & ~cell.str.contains(_DOT_GROUP)
    stripped = cell.str.strip_chars()
    with_comma = stripped.str.replace(",", ".", literal=True)
    number = (
        pl.when(plain)
        .then(stripped.cast(pl.Float64, strict=False))
        .when(cell.str.contains(_DECIMAL_COMMA))
        .then(with_comma.cast(pl.Float64, strict=False))
    )
    read = pl.DataFrame({"text": texts.cast(pl.String)}).select(number.alias("number"))
    return read.select(pl.when(pl.col("number").is_finite()).then(pl.col("number")).alias("number")).to_series()


def _both_marks(digits: str) -> ReadNumber:
    """A number with comma and dot: the last mark is the decimal one, the other must separate groups of three."""
    decimal = "," if digits.rfind(",") > digits.rfind(".") else "."
    group = "." if decimal == "," else ","
    if not re.fullmatch(rf"\d{{1,3}}(\{group}\d{{3}})+\{decimal}\d+", digits):
        return ReadNumber(None, "is not a number: write it such as 12.5")
    return ReadNumber(float(digits.replace(group, "").replace(decimal, ".")))


def _meaning_of_comma(marks: DecimalMarks) -> str | None:
    thousands = marks.comma_thousands or marks.dot_decimal
    if marks.comma_decimal == thousands:
        return None
    return "decimal" if marks.comma_decimal else "thousands"


def _meaning_of_dot(marks: DecimalMarks) -> str | None:
    thousands = marks.dot_thousands or marks.comma_decimal
    if not thousands:
        return "decimal"
    return None if marks.dot_decimal or not marks.dot_thousands else "thousands"
