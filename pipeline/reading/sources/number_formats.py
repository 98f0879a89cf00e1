"""Units that a workbook shows behind numbers by their format only: 12 with the format 0" min" is shown as 12 min."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from xml.etree import ElementTree

from draincurve.pipeline.reading.sources.cell_marks import local_name

_LITERAL = re.compile(r'"([^"]*)"')
_UNITS = re.compile(
    r"\W*(?:h|hrs?|hours?|std\.?|stunden|heures|horas|ore|min|mins|minutes?|minuten|minuti|sec|seconds?|d|days?|tage?|jours?"
    r"|ml|cl|dl|l|litres?|liters?|cc|oz|fl ?oz|km|miles?|laps?)\W*",
    re.IGNORECASE,
)
"""Units of time and volume, and what a shop counts instead."""
USUAL = frozenset(("h", "ml"))
"""Units in which numbers without one are read."""


def units_by_style(styles: ElementTree.Element | None) -> Mapping[int, str]:
    """The unit that each cell format of a workbook shows behind a number, by the number of the format."""
    if styles is None:
        return {}
    parts = {local_name(part.tag): part for part in styles}
    units = {item.get("numFmtId"): _unit(item.get("formatCode", "")) for item in parts.get("numFmts", ())}
    formats = (item for item in parts.get("cellXfs", ()) if local_name(item.tag) == "xf")
    found = ((index, units.get(item.get("numFmtId"))) for index, item in enumerate(formats))
    return {index: unit for index, unit in found if unit is not None}


def _unit(code: str) -> str | None:
    """The unit in a format: the words in quotation marks behind the digits of positive numbers."""
    positive = code.split(";", 1)[0]
    literals: Iterable[str] = (literal.strip() for literal in _LITERAL.findall(positive))
    return next((literal for literal in literals if _UNITS.fullmatch(literal)), None)
