"""Cells that name two things where one belongs: F01/F02, Linear 44 -> Stepped 46, Fork 5 + Fork 7.

Such a cell would become a name of its own, with one drain. A drain of two units is a drain of neither; of two springs
or oils, only the shop knows which one the drained fill had.
"""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.spellings import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, words_setting
from draincurve.schemas.checked_settings import toml_text
from draincurve.schemas.settings import Settings

SINGLE_NAMES = ("unit_id", "oil_grade", "spring_type")
"""Columns in which a drain has one name. Two riders or surfaces may well share a fill."""

_ARROW = r"-+>|=+>|→|➔|➜"
_MARK = r"[/+&,;|]"
_WORD = r"and|to|then|or|und|dann|oder|et|puis|ou|y|luego|e|poi"
_CHANGED = re.compile(rf"\s*(?:{_ARROW})\s*")
_JOINED = re.compile(rf"\s*(?:{_ARROW}|{_MARK})\s*|\s+(?:{_WORD})\s+", re.IGNORECASE)


def with_joined_names(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Holds back drains of two units, and asks about drains with two springs or oils.

    drains : with every name in one spelling. A cell is two names where its parts are names of other rows, each
    commoner than the cell as a whole, or where an arrow stands between them. The settings' `[words]` answer.
    """
    return drains.with_findings(*[_joined(drains, column, settings) for column in SINGLE_NAMES])


def _joined(drains: WorkingTable, column: str, settings: Settings) -> pl.DataFrame:
    """The findings about one column."""
    counts = drains.typed.get_column(column).drop_nulls().value_counts()
    times = dict(counts.iter_rows())
    suspects = [name for name in times if _JOINED.search(name)]
    by_key = {spelling_key(name): name for name in times} if suspects else {}
    settled = {spelling_key(word) for word in settings.words_of(column)}
    rows = []
    for name in suspects:
        parts = _JOINED.split(name)
        others = [by_key[key] for key in map(spelling_key, parts) if key in by_key]
        rarer = bool(others) and times[name] < min(times[other] for other in others)
        whole = rarer and len(others) == len(parts)
        changed = _CHANGED.search(name) is not None and all(parts)
        if spelling_key(name) not in settled and (whole or (column != "unit_id" and (rarer or changed))):
            likely = (others or parts)[0]
            setting = words_setting(column, name, likely, remark=f"{toml_text(name)} if it is one")
            rows.append((name, " and ".join(f"'{part}'" for part in parts), likely, setting))
    schema = dict.fromkeys((column, "parts", "likely", "setting"), pl.String)
    two = drains.typed.select("_row", column).join(pl.DataFrame(rows, schema=schema, orient="row"), on=column)
    if column == "unit_id":
        message = pl.format("two units in one cell, {}: write a row for each", "parts")
        return drains.about_rows(two.drop(column), column, kind="held back", message=message)
    what = "oils" if column == "oil_grade" else "springs"
    message = pl.format(f"two {what} in one cell, {{}}: write the one that the drained fill had", "parts")
    settled_by = {"proposal": pl.col("likely"), "setting": pl.col("setting")}
    return drains.about_rows(two.drop(column), column, kind="asked", message=message, **settled_by)
