"""Ratings on a scale that does not end at 5: past it, so that all are levels of another one, or perhaps before it."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.scale_headers import other_scale
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel
from draincurve.schemas.settings import Settings

HIGHEST = 10
"""Highest level of the scales that shops use instead."""
FEWEST_OVER, LEAST_SHARE = 3, 0.05
"""Cells with a level over 5, and their share of all levels, under which they are slips."""
SHORT_END, FEWEST_AT_END = 3, 40
"""The end of a shorter scale, and ratings with it from which the lack of any higher one is said (our choice)."""
_LEVELS = r"^\s*(\d{1,2})(?:[.,]0+)?\s*(?:/\s*10)?\s*$"


def with_scale_ends(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about each channel with levels over 5, whose ratings are not known until the settings map them.

    Says where none is over 3 though the limit is. Any word in the settings for the column is an answer.
    """
    for channel in CHANNELS:
        if channel.rating not in drains.raw.columns or settings.words_of(channel.rating):
            continue
        drains = _past_five(drains, channel)
        if settings.limits.ratings[channel.name] > SHORT_END:
            drains = drains.with_findings(*_short_scale(drains, channel))
    return drains


def _past_five(drains: WorkingTable, channel: Channel) -> WorkingTable:
    texts, rows = drains.raw[channel.rating].alias("text").value_counts(name="rows").cast({"text": pl.String})
    levels = texts.str.extract(_LEVELS).cast(pl.Int64, strict=False)
    over, leveled = int(rows.filter(levels > RATING_HIGH).sum()), int(rows.filter(levels.is_not_null()).sum())
    header = drains.headers.get(channel.rating, channel.rating)
    is_slip = over < FEWEST_OVER or over < LEAST_SHARE * leveled
    if is_slip or bool((levels > HIGHEST).any()) or other_scale(header):
        return drains
    message = (
        f"over {RATING_HIGH} in {over} rows: is it another scale? Write them as {RATING_LOW} to {RATING_HIGH}, or "
        "map each in the settings; until then they are not known"
    )
    typed = texts.filter(levels.is_not_null()).str.strip_chars().unique()
    lines = [f'"{text}" = ""' for text in sorted(typed, key=lambda text: (len(text), text))]
    setting = "\n".join([f"[words.{channel.rating}]", *lines])
    unknown = [pl.lit(None, drains.parsed.schema[level]).alias(level) for level in (channel.low, channel.high)]
    finding = file_finding(channel.rating, header, kind="asked", message=message, setting=setting)
    return drains.with_parsed(drains.parsed.with_columns(unknown)).with_findings(finding)


def _short_scale(drains: WorkingTable, channel: Channel) -> list[pl.DataFrame]:
    """A note where the ratings end at 3, as they also do on a scale of three levels, which the data cannot show."""
    levels = drains.parsed[channel.high].drop_nulls()
    at_end = int((levels == SHORT_END).sum())
    if levels.max() != SHORT_END or at_end < FEWEST_AT_END or levels.n_unique() < SHORT_END:
        return []
    message = (
        f"no {channel.name} rating over {SHORT_END} in {levels.len()} rows: if the shop's scale ends at {SHORT_END}, "
        f"map its levels in the settings, [words.{channel.rating}]"
    )
    return [file_finding(None, None, kind="note", message=message)]
