"""Ratings on a scale that does not end at 5: past it, so that all are levels of another one, or perhaps before it."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.scale_headers import other_scale
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel
from draincurve.schemas.settings import Settings

HIGHEST = 10
"""Highest level of the scales that shops use instead."""
FEWEST_OVER, LEAST_SHARE = 3, 0.05
"""Cells with a level over 5, and their share of all levels, under which they are slips."""
SHORT_END, ENOUGH_AT_END, MANY_AT_END = 3, 5.0, 40
"""The end of a shorter scale; and ratings with it, times their share, from which the lack of any higher one is asked
about, or so many of them (our choice): on a scale of five some would likely be higher."""
_LEVELS = r"^\s*(\d{1,2})(?:[.,]0+)?\s*(?:/\s*10)?\s*$"


def with_scale_ends(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about each channel with levels over 5, whose ratings are not known until the settings map them.

    Where one rater alone gives them, that rater's ratings, and those without a rater, are not known. Asks
    where none is over 3 though the limit is. Any level among the words of the settings for the column is an answer.
    """
    for channel in CHANNELS:
        words = settings.words_of(channel.rating)
        if channel.rating not in drains.raw.columns or any(re.match(_LEVELS, word) for word in words):
            continue
        drains = _past_five(drains, channel)
        if settings.limits.ratings[channel.name] > SHORT_END:
            drains = drains.with_findings(*_short_scale(drains, channel))
    return drains


def _past_five(drains: WorkingTable, channel: Channel) -> WorkingTable:
    texts = drains.raw[channel.rating].cast(pl.String)
    counted = texts.alias("text").value_counts(name="rows")
    levels = counted["text"].str.extract(_LEVELS).cast(pl.Int64, strict=False)
    over = counted.filter(levels > RATING_HIGH)
    count, header = int(over["rows"].sum()), drains.headers.get(channel.rating, channel.rating)
    if count < FEWEST_OVER or bool((levels > HIGHEST).any()) or other_scale(header):
        return drains
    rater = _only_rater(drains, texts.is_in(over["text"].implode()))
    whose = pl.lit(True) if rater is None else pl.col("rated_by").cast(pl.String).fill_null(rater) == rater
    theirs = drains.parsed_where(whose, "_row")["_row"]
    if count < LEAST_SHARE * int(texts[theirs].str.contains(_LEVELS).sum()):
        return drains
    setting, ratings = None, f"the ratings by '{rater}'"
    keep = ", or keep those that are right: yes in a column headed confirmed"
    if rater is None:
        typed = counted["text"].filter(levels.is_not_null()).str.strip_chars().unique()
        lines = [f'"{text}" = ""' for text in sorted(typed, key=lambda text: (len(text), text))]
        setting = "\n".join([f"[words.{channel.rating}]", *lines])
        ratings, keep = "them", ", or map each in the settings"
    message = (
        f"over {RATING_HIGH} in {count} rows{'' if rater is None else ', all by one rater'}: is it another scale? "
        f"Write {ratings} as {RATING_LOW} to {RATING_HIGH}{keep}; until then they are not known"
    )
    known = ~whose if rater is None else ~whose | pl.col("confirmed").fill_null(False)
    values = [pl.when(known).then(level).alias(level) for level in (channel.low, channel.high)]
    finding = file_finding(channel.rating, header, kind="asked", message=message, setting=setting)
    return drains.with_parsed(drains.parsed.with_columns(values)).with_findings(finding)


def _only_rater(drains: WorkingTable, is_over: pl.Series) -> str | None:
    """The rater of all levels over 5, if one alone is named for them and others rate, too."""
    raters = drains.parsed["rated_by"].cast(pl.String)
    theirs = raters.filter(is_over.fill_null(False)).unique()
    return theirs.item() if theirs.len() == 1 and raters.drop_nulls().n_unique() > 1 else None


def _short_scale(drains: WorkingTable, channel: Channel) -> list[pl.DataFrame]:
    """The question where ratings end at 3, as on a scale of three levels, which the data cannot show.

    On such a scale 3 is past fit, and its hours are far too long for it.
    """
    levels = drains.parsed[channel.high].drop_nulls()
    at_end = int((levels == SHORT_END).sum())
    often = at_end >= MANY_AT_END or at_end**2 >= ENOUGH_AT_END * levels.len()
    if levels.max() != SHORT_END or not often or levels.n_unique() < SHORT_END:
        return []
    message = (
        f"no {channel.name} rating over {SHORT_END} in {levels.len()} rows: does the scale end at {SHORT_END}? Then "
        "intervals are far too long until the settings map its levels"
    )
    setting = (
        f'[words.{channel.rating}]\n"{SHORT_END}" = "{SHORT_END}"  # or "4-5", and "2" = "2-3", if it ends there'
    )
    header = drains.headers.get(channel.rating, channel.rating)
    return [file_finding(channel.rating, header, kind="asked", message=message, setting=setting)]
