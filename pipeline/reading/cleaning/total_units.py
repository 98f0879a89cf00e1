"""Subtotals that look like drains: rows with a date whose unit is called a total, or the total of another unit."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.row_kinds import TOTALS
from draincurve.pipeline.reading.cleaning.spellings import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, words_setting
from draincurve.schemas.settings import Settings

_WORDS = TOTALS.replace(" ", "[ -]")
_ALONE = re.compile(rf"\W*(?:{_WORDS})\W*", re.IGNORECASE)
_OF_UNIT = re.compile(rf"\W*(?:(?:{_WORDS})\W+(?P<behind>.+)|(?P<before>.+?)\W+(?:{_WORDS})\W*)", re.IGNORECASE)


def with_totals_held_back(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """The drains with such rows held back, unless the settings have the name among their words for units."""
    units = drains.parsed["unit_id"].cast(pl.String).drop_nulls().unique().sort()
    likely = units.filter(units.str.contains(rf"(?i)(?:^|\W)(?:{_WORDS})(?:\W|$)"))
    if likely.is_empty():
        return drains
    settled = {spelling_key(word) for word in settings.words_of("unit_id")}
    keys = {spelling_key(unit) for unit in units}
    message = "is a total, not a unit: delete the row; if a unit is called so, say so in the settings"
    findings = []
    for unit in likely:
        if spelling_key(unit) in settled or not _is_total(unit, keys):
            continue
        rows = drains.parsed.filter(pl.col("unit_id").cast(pl.String) == unit).select("_row")
        setting = words_setting("unit_id", unit, unit)
        findings.append(drains.about_rows(rows, "unit_id", kind="held back", message=message, setting=setting))
    return drains.with_findings(*findings)


def _is_total(name: str, units: set[str]) -> bool:
    """Whether a name is a word for a total, alone or beside the name of one of the units, by their spelling keys."""
    if _ALONE.fullmatch(name):
        return True
    match = _OF_UNIT.fullmatch(name)
    return match is not None and spelling_key(match["behind"] or match["before"]) in units
