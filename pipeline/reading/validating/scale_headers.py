"""What the header of a rating says of its scale: another one than 1 to 5, or one that runs the other way."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW
from draincurve.schemas.settings import Settings

_SCALE = re.compile(r"(?<![\d.,])(\d{1,3})\s*(?:-|–|—|\.{2,3}|to|bis|à|a|hasta)\s*(\d{1,3})(?![\d.,])", re.IGNORECASE)
_IS = r"\s*(?:=|:|is|ist|-|–|est|es|è)?\s*"
_CLEAN = (
    "clean|clear|best|good|new|fresh|perfect|sauber|klar|gut|neu|beste|propre|clair|bon|neuf|limpio|claro|bueno|nuevo"
    "|pulito|chiaro|buono|nuovo"
)
_DIRTY = (
    "dirty|bad|worst|black|dark|muddy|schmutzig|schlecht|dunkel|schwarz|sale|mauvais|noir|sucio|malo|negro|sporco"
    "|cattivo|nero"
)
_TURNED = re.compile(
    rf"(?<!\d){RATING_HIGH}{_IS}(?:{_CLEAN})\b|(?<!\d){RATING_LOW}{_IS}(?:{_DIRTY})\b", re.IGNORECASE
)


def says_turned(header: str) -> bool:
    """Whether a header names the highest rating as the clean one, such as "colour (5 = clean)" or "colour 5-1"."""
    return _TURNED.search(header) is not None or (RATING_HIGH, RATING_LOW) in _scales(header)


def with_scales_of_headers(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about ratings whose header names another scale; until the settings map them, they are not known.

    Any word in the settings for the column is an answer.
    """
    findings = []
    for channel in CHANNELS:
        header = drains.headers.get(channel.rating, "")
        other = [scale for scale in _scales(header) if set(scale) != {RATING_LOW, RATING_HIGH}]
        if not other or settings.words_of(channel.rating):
            continue
        message = (
            f"its header names the scale {other[0][0]} to {other[0][1]}: write the ratings as {RATING_LOW} to "
            f"{RATING_HIGH}, or map each in the settings; until then they are not known"
        )
        lines = [f'"{level}" = ""' for level in range(min(other[0]), min(max(other[0]), min(other[0]) + 10) + 1)]
        setting = "\n".join([f"[words.{channel.rating}]", *lines])
        findings.append(file_finding(channel.rating, header, kind="asked", message=message, setting=setting))
        unknown = [pl.lit(None, drains.parsed.schema[level]).alias(level) for level in (channel.low, channel.high)]
        drains = drains.with_parsed(drains.parsed.with_columns(unknown))
    return drains.with_findings(*findings)


def _scales(header: str) -> list[tuple[int, int]]:
    """Both ends of each scale that a header names, as they are written."""
    return [(int(low), int(high)) for low, high in _SCALE.findall(header) if low != high]
