"""What the header of a rating says of its scale: another one than 1 to 5, or one that runs the other way."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import SCALE_OF, SCALE_TO
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW
from draincurve.schemas.settings import Settings

_SCALE = re.compile(rf"(?<![\d.,])(\d{{1,3}})\s*(?:{SCALE_TO})\s*(\d{{1,3}})(?![\d.,])", re.IGNORECASE)
_OUT_OF = re.compile(rf"(?:{SCALE_OF})\s*(\d{{1,3}})(?![\d.,])", re.IGNORECASE)
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


def title_says_turned(title: str) -> bool:
    """Whether a title names 5 as clean or 1 as dirty; two numbers alone may be of anything."""
    return _TURNED.search(title) is not None


def with_scales_of_headers(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about ratings whose header names another scale; until the settings map them, they are not known.

    Any word in the settings for the column is an answer.
    """
    findings = []
    for channel in CHANNELS:
        header = drains.headers.get(channel.rating, "")
        scale = other_scale(header)
        if scale is None or settings.words_of(channel.rating):
            continue
        message = (
            f"its header names the scale {scale[0]} to {scale[1]}: write the ratings as {RATING_LOW} to "
            f"{RATING_HIGH}, or map each in the settings; until then they are not known"
        )
        lines = [f'"{level}" = ""' for level in range(min(scale), min(max(scale), min(scale) + 10) + 1)]
        setting = "\n".join([f"[words.{channel.rating}]", *lines])
        findings.append(file_finding(channel.rating, header, kind="asked", message=message, setting=setting))
        unknown = [pl.lit(None, drains.parsed.schema[level]).alias(level) for level in (channel.low, channel.high)]
        drains = drains.with_parsed(drains.parsed.with_columns(unknown))
    return drains.with_findings(*findings)


def other_scale(header: str) -> tuple[int, int] | None:
    """Both ends of the first scale that a header names and that is not 1 to 5, as they are written."""
    return next((scale for scale in _scales(header) if set(scale) != {RATING_LOW, RATING_HIGH}), None)


def _scales(header: str) -> list[tuple[int, int]]:
    """Both ends of each scale that a header names, as they are written."""
    scales = [(int(low), int(high)) for low, high in _SCALE.findall(header) if low != high]
    return scales or [(RATING_LOW, int(high)) for high in _OUT_OF.findall(header)]
