"""Rows that look like drains of a unit that is none: totals and targets with a date, "both legs", an example."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.row_kinds import TOTALS
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, words_setting
from draincurve.schemas.settings import Settings

_TOTAL = TOTALS.replace(" ", "[ -]")
_STATISTIC = (
    "min|max|minimum|maximum|minimo|mínimo|massimo|máximo|median|médiane|mediana|modus|"
    "std dev|stddev|stdev|standard deviation|stabw|standardabweichung|écart type|desviación estándar|"
    "deviazione standard|plan|planned|target|goal|budget|forecast|soll|ist|ziel|planwert|sollwert|vorgabe|objectif|"
    "prévu|objetivo|obiettivo|last year|previous year|prior year|last season|vorjahr|letztes jahr|vorsaison|"
    "année précédente|an dernier|año anterior|año pasado|anno precedente|anno scorso"
).replace(" ", "[ .-]{1,2}")
"""What rows are called that say what fills are like, were or are to be."""
_SEVERAL = "all|both|each|every|alle|beide|tous|toutes|les deux|todos|todas|ambos|ambas|tutti|tutte|entrambi|entrambe"
_THINGS = (
    "(?: the| die| les| los| las| le| i)?(?: (?:units|forks?|legs?|shocks?|bikes?|gabeln|holme|federbeine|motorräder"
    "|fourches|amortisseurs|motos|horquillas|forcelle|ammortizzatori|moto))?"
)
_EXAMPLE = "example|sample|dummy|beispiel|muster|exemple|ejemplo|esempio"
_ALONE = {
    "is a total, not a unit: delete the row": re.compile(rf"\W*(?:{_TOTAL})\W*", re.IGNORECASE),
    "is a statistic or a target, not a unit: delete the row": re.compile(rf"\W*(?:{_STATISTIC})\W*", re.IGNORECASE),
    "stands for several units: write a row for each": re.compile(rf"\W*(?:{_SEVERAL}){_THINGS}\W*", re.IGNORECASE),
    "is an example, not a unit: delete the row": re.compile(rf"\W*(?:{_EXAMPLE})\W*", re.IGNORECASE),
}
"""By reason, names that say nothing else."""
_OF = f"(?:{_TOTAL}|{_STATISTIC})"
_OF_UNIT = re.compile(rf"\W*(?:{_OF}\W+(?P<behind>.+)|(?P<before>.+?)\W+{_OF}\W*)", re.IGNORECASE)
_FLEET = re.compile(rf"(?:the |of |der )*(?:fleet|flotte|flota|flotta|overall|{_SEVERAL}){_THINGS}", re.IGNORECASE)
_LIKELY = rf"(?i)(?:^|\W)(?:{_TOTAL}|{_STATISTIC}|{_SEVERAL}|{_EXAMPLE})(?:\W|$)"

_IF_IT_IS_ONE = "; if a unit is called so, say so in the settings"
NO_UNIT = tuple(f"{reason}{_IF_IT_IS_ONE}" for reason in _ALONE)
"""Every reason for which such a row is held back; that for a total comes first."""


def with_no_units_held_back(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """The drains with such rows held back, unless the settings have the name among their words for units."""
    settled = {spelling_key(word) for word in settings.words_of("unit_id")}
    findings = []
    for unit, message in names_of_no_unit(drains.parsed["unit_id"].cast(pl.String).unique().sort()).items():
        if spelling_key(unit) not in settled:
            rows = drains.parsed.filter(pl.col("unit_id").cast(pl.String) == unit).select("_row")
            setting = words_setting("unit_id", unit, unit)
            findings.append(drains.about_rows(rows, "unit_id", kind="held back", message=message, setting=setting))
    return drains.with_findings(*findings) if findings else drains


def names_of_no_unit(units: pl.Series) -> dict[str, str]:
    """Those of the names that are no unit's, and why. A total may stand beside the name of a unit or of the fleet."""
    likely = units.drop_nulls().filter(units.drop_nulls().str.contains(_LIKELY))
    if likely.is_empty():
        return {}
    keys = {spelling_key(unit) for unit in units.drop_nulls()}
    reasons = {unit: _reason(unit, keys) for unit in likely}
    return {unit: reason for unit, reason in reasons.items() if reason is not None}


def _reason(name: str, units: set[str]) -> str | None:
    for reason, alone in zip(NO_UNIT, _ALONE.values(), strict=True):
        if alone.fullmatch(name):
            return reason
    match = _OF_UNIT.fullmatch(name)
    whose = "" if match is None else match["behind"] or match["before"]
    return NO_UNIT[0] if spelling_key(whose) in units or _FLEET.fullmatch(whose) else None
