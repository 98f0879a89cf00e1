"""Cells that hold a word: free text, yes or no, and the kind of service."""

from __future__ import annotations

import re
from collections.abc import Callable

import polars as pl

_NOTHING = ("-", "--", "–", "—", "?", "??", "n/a", "#n/a", "null")
_YES = ("yes", "y", "x", "1", "1.0", "true", "t", "ja", "j", "oui", "si", "sí", "✓", "✔", "+")
_NO = ("no", "n", "0", "0.0", "false", "f", "nein", "non", "-", "–", "—", "none")
_UNKNOWN = ("", "?", "??", "n/a", "na", "nan", "null", "unknown")
_SERVICES = {
    "oil": ("oil", "oilchange", "oilservice", "change", "drain", "service", "oils"),
    "rebuild": ("rebuild", "rebuilt", "overhaul", "fullservice", "strip", "fullrebuild"),
    "top-up": ("topup", "toppedup", "top", "refill", "topping"),
}
_SERVICE_OF = {word: kind for kind, words in _SERVICES.items() for word in words}


def read_text(texts: pl.Series) -> pl.Series:
    """Text trimmed, runs of spaces made one; a blank or a dash is null. Shape (n,)."""
    cell = pl.col("text").str.replace_all(r"[\s\u00a0]+", " ").str.strip_chars()
    nothing = (cell == "") | cell.str.to_lowercase().is_in(_NOTHING)
    return (
        pl.DataFrame({"text": texts.cast(pl.String)}).select(pl.when(~nothing).then(cell).alias("text")).to_series()
    )


def read_yes_no(texts: pl.Series) -> pl.DataFrame:
    """Columns value (Boolean, null for unknown) and reason, shape (n,)."""
    return _each_distinct(texts, pl.Boolean, _yes_no)


def read_service_kind(texts: pl.Series) -> pl.DataFrame:
    """Columns value ("oil", "rebuild" or "top-up"; blank is "oil") and reason, shape (n,)."""
    read = _each_distinct(texts, pl.String, _service)
    return read.with_columns(
        pl.when(pl.col("reason").is_null()).then(pl.col("value").fill_null("oil")).alias("value")
    )


def _yes_no(text: str) -> tuple[bool | None, str | None]:
    word = text.strip().casefold()
    if word in _YES:
        return True, None
    if word in _NO:
        return False, None
    return None, None if word in _UNKNOWN else "is neither yes nor no: write yes or no, or leave it blank"


def _service(text: str) -> tuple[str | None, str | None]:
    word = re.sub(r"[\W_]+", "", text.casefold())
    if not word:
        return None, None
    kind = _SERVICE_OF.get(word)
    return kind, None if kind else "is no kind of service: write oil, rebuild or top-up"


def _each_distinct(
    texts: pl.Series, kind: type[pl.DataType], read: Callable[[str], tuple[object, str | None]]
) -> pl.DataFrame:
    """Each distinct text read once and joined on."""
    distinct = texts.cast(pl.String).drop_nulls().unique(maintain_order=True)
    pairs = [read(text) for text in distinct]
    parsed = pl.DataFrame(
        {
            "text": distinct,
            "value": pl.Series([value for value, _ in pairs], dtype=kind),
            "reason": pl.Series([reason for _, reason in pairs], dtype=pl.String),
        }
    )
    frame = pl.DataFrame({"text": texts.cast(pl.String)})
    return frame.join(parsed, on="text", how="left", maintain_order="left").drop("text")
