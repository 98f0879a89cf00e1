"""What of the accepted drains is known: a value that is asked about is unknown until its writer has answered.

The drain itself remains, and its oil clock restarts at its date. What an unknown value may hide can only shorten
intervals: the models are fitted to each other reading that an answer could bring, and the shortest interval counts.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import polars as pl

from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel

_ASKED: Mapping[str, tuple[str, ...]] = {
    "hours_in_question": ("oil_hours",),
    "volumes_in_question": ("filled_ml", "drained_ml"),
    "spring_in_question": ("spring_hours",),
    **{channel.in_question: (channel.low, channel.high) for channel in CHANNELS},
}
"""Columns of drains that say that a question is open, and the columns that are then unknown."""

_OF_CONDITIONS = ("volumes_in_question", "spring_in_question")


class OtherReading(NamedTuple):
    """Drains as one answer would have them read, and the channels whose ratings differ from what is known."""

    drains: pl.DataFrame
    channels: tuple[str, ...]


def known_drains(drains: pl.DataFrame) -> pl.DataFrame:
    """The drains with null in place of what is asked about; the frame itself where nothing is.

    drains : accepted rows. A frame without the columns of questions has none.
    """
    return _without(drains, tuple(_ASKED))


def scales_in_question(drains: pl.DataFrame) -> tuple[Channel, ...]:
    """Channels of which it is asked of some rows which end of the scale is the clean one."""
    return tuple(channel for channel in CHANNELS if _any(drains, channel.in_question))


def unsure_scales(drains: pl.DataFrame) -> tuple[str, ...]:
    """Names of the channels of which that is asked of every row, so that none of their ratings are known."""
    return tuple(channel.name for channel in scales_in_question(drains) if drains[channel.in_question].all())


def other_readings(drains: pl.DataFrame, limits: Mapping[str, int]) -> tuple[OtherReading, ...]:
    """Every other reading of the drains that could shorten an interval; usually none.

    drains : accepted rows; limits : rating at or over which oil is past fit, by channel.  Rows whose hours are asked
    about count at their cautious_hours, or as typed where there are none; all of their ratings do, since the dirty
    ones alone would make all oil look worse than it is. Where no other hours are known only ratings at or past the
    limit count. Ratings whose scale is asked about count as typed and, in a reading of their own, turned. Where that
    is asked of some rows only, the rows whose hours are asked about are also read without these ratings.
    """
    scales = scales_in_question(drains)
    frames = [drains]
    if scales:
        frames.append(drains.with_columns(level for channel in scales for level in _turned(channel)))
    only_some_rows_asked = len(unsure_scales(drains)) < len(scales)
    if only_some_rows_asked:
        frames.append(_without(drains, [channel.in_question for channel in scales]))
    found = []
    for index, frame in enumerate(frames):
        read = _without(frame, _OF_CONDITIONS)
        read_scales = scales if index < 2 else ()
        asked, all_ratings = set(), set()
        for channel in CHANNELS if _any(read, "hours_in_question") else ():
            known, rated, dirty = read.select(
                _is_known(channel).any().alias("known"),
                (pl.col("hours_in_question") & pl.col(channel.low).is_not_null()).any().alias("rated"),
                _is_dirty(channel, limits).any().alias("dirty"),
            ).row(0)
            if known and rated:
                all_ratings.add(channel)
            if dirty or channel in all_ratings:
                asked.add(channel)
        if read_scales:
            found.append(OtherReading(_without(read, ("hours_in_question",)), _names(read_scales)))
        if asked:
            channels = _names({*read_scales, *asked})
            found.append(OtherReading(with_asked_ratings(read, limits, all_ratings=all_ratings), channels))
    return tuple(found)


def _names(channels: Collection[Channel]) -> tuple[str, ...]:
    return tuple(channel.name for channel in CHANNELS if channel in channels)


def with_asked_ratings(
    drains: pl.DataFrame, limits: Mapping[str, int], *, all_ratings: Collection[Channel] = ()
) -> pl.DataFrame:
    """The drains in which rows whose hours are asked about count at their cautious_hours.

    Of their ratings those at or past the limit remain. Of the channels in `all_ratings` all do, at the hours as typed
    where cautious_hours are not known.
    """
    if not _any(drains, "hours_in_question"):
        return drains
    asked, cautious = pl.col("hours_in_question"), pl.col("cautious_hours")
    counts = {channel: asked if channel in all_ratings else _is_dirty(channel, limits) for channel in CHANNELS}
    hours = pl.coalesce(cautious, "oil_hours") if all_ratings else cautious
    return drains.with_columns(
        pl.when(~asked).then("oil_hours").when(pl.any_horizontal(counts.values())).then(hours).alias("oil_hours"),
        *[
            pl.when(~asked | kept).then(level).alias(level)
            for channel, kept in counts.items()
            for level in (channel.low, channel.high)
        ],
    )


def _is_dirty(channel: Channel, limits: Mapping[str, int]) -> pl.Expr:
    """Whether a row's hours are asked about and its rating is surely at or past the limit."""
    past = (pl.col(channel.low) >= limits[channel.name]).fill_null(False)
    return pl.col("hours_in_question") & pl.col("cautious_hours").is_not_null() & past


def _is_known(channel: Channel) -> pl.Expr:
    """Whether a row has a rating of the channel and hours that nobody asks about."""
    return ~pl.col("hours_in_question") & (pl.col("oil_hours") > 0) & pl.col(channel.low).is_not_null()


def _turned(channel: Channel) -> tuple[pl.Expr, pl.Expr]:
    """Levels, those that are asked about on the scale that runs the other way."""
    ends, asked = RATING_LOW + RATING_HIGH, pl.col(channel.in_question)
    low, high = pl.col(channel.low), pl.col(channel.high)
    return (
        pl.when(asked).then(ends - high).otherwise(low).alias(channel.low),
        pl.when(asked).then(ends - low).otherwise(high).alias(channel.high),
    )


def _without(drains: pl.DataFrame, questions: Sequence[str]) -> pl.DataFrame:
    """The drains with null in place of what some questions are about."""
    unknown = [
        pl.when(~pl.col(asked)).then(name).alias(name)
        for asked in questions
        if _any(drains, asked)
        for name in _ASKED[asked]
    ]
    return drains.with_columns(unknown) if unknown else drains


def _any(drains: pl.DataFrame, asked: str) -> bool:
    return asked in drains.columns and bool(drains[asked].any())
