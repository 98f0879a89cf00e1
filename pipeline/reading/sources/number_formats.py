"""Units that a workbook shows behind its numbers by their format only: 12 with the format 0" min" is read as 12."""

from __future__ import annotations

import io
import re
import zipfile
from xml.etree.ElementTree import ParseError

from draincurve.pipeline.reading.sources.cell_marks import local_name, parsed_part

_STYLES = "xl/styles.xml"
_LITERAL = re.compile(r'"([^"]*)"')
_OTHER_UNITS = re.compile(
    r"\W*(?:min|mins|minutes?|minuten|minuti|sec|seconds?|d|days?|tage?|jours?|cl|dl|l|litres?|liters?|cc|oz|fl ?oz"
    r"|km|miles?|laps?)\W*",
    re.IGNORECASE,
)
"""Units of time and volume but those in which numbers without a unit are read, hours and millilitres."""


def units_in_formats(content: bytes) -> tuple[str, ...]:
    """The other units that number formats in use show behind a number, each once.

    content : of a workbook. One whose formats cannot be read has none; whether it is damaged is said elsewhere.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if _STYLES not in archive.namelist():
                return ()
            styles = {local_name(part.tag): part for part in parsed_part(archive, _STYLES)}
    except (zipfile.BadZipFile, OSError, ValueError, ParseError):
        return ()
    used = {item.get("numFmtId") for item in styles.get("cellXfs", ())}
    codes = [item.get("formatCode", "") for item in styles.get("numFmts", ()) if item.get("numFmtId") in used]
    literals = [literal.strip() for code in codes for literal in _LITERAL.findall(code)]
    return tuple(dict.fromkeys(literal for literal in literals if _OTHER_UNITS.fullmatch(literal)))
