"""What of the accepted drains is known: a value that is asked about is unknown until its writer has answered.

The drain itself remains, and its oil clock restarts at its date. What an unknown value may hide can only shorten
intervals: the models are fitted to each other reading that an answer could bring, and the shortest interval counts.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
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
    """Channels of which it is asked which end of their scale is the clean one."""
    return tuple(channel for channel in CHANNELS if _any(drains, channel.in_question))


def other_readings(drains: pl.DataFrame, limits: Mapping[str, int]) -> tuple[OtherReading, ...]:
    """Every other reading of the drains that could shorten an interval; usually none.

    drains : accepted rows; limits : rating at or over which oil is past fit, by channel.  Ratings whose hours are
    asked about count at their row's cautious_hours where one of them is at or past the limit. The clean ones count
    with it: dirty fills alone would make all oil look worse than it is. Where no other hours are known they do not.
    Ratings whose scale is asked about count as typed and, in a reading of their own, turned.
    """
    scales = scales_in_question(drains)
    found = []
    for turned in (False, True) if scales else (False,):
        levels = [level for channel in scales if turned for level in _turned(channel)]
        read = _without(drains.with_columns(levels) if levels else drains, _OF_CONDITIONS)
        dirty = {one for one in CHANNELS if read.select(_is_dirty(read, one, limits).any()).item()}
        clean_too = {one for one in dirty if read.select(_is_known(one).any()).item()}
        if scales:
            found.append(OtherReading(_without(read, ("hours_in_question",)), _names(scales)))
        if dirty:
            found.append(
                OtherReading(with_asked_ratings(read, limits, clean_too=clean_too), _names({*scales, *dirty}))
            )
    return tuple(found)


def _names(channels: Collection[Channel]) -> tuple[str, ...]:
    return tuple(channel.name for channel in CHANNELS if channel in channels)


def with_asked_ratings(
    drains: pl.DataFrame, limits: Mapping[str, int], *, clean_too: Collection[Channel] = ()
) -> pl.DataFrame:
    """The drains in which a row whose hours are asked about counts at its cautious_hours.

    Of its ratings those at or past the limit remain, and the others of channels in `clean_too`.
    """
    if not _any(drains, "hours_in_question"):
        return drains
    asked, hours = pl.col("hours_in_question"), pl.col("cautious_hours")
    counts = {
        channel: asked & hours.is_not_null() if channel in clean_too else _is_dirty(drains, channel, limits)
        for channel in CHANNELS
    }
    return drains.with_columns(
        pl.when(asked).then(pl.when(pl.any_horizontal(counts.values())).then(hours)).otherwise("oil_hours")
        .alias("oil_hours"),
        *[
            pl.when(~asked | kept).then(level).alias(level)
            for channel, kept in counts.items()
            for level in (channel.low, channel.high)
        ],
    )  # fmt: skip


def _is_dirty(drains: pl.DataFrame, channel: Channel, limits: Mapping[str, int]) -> pl.Expr:
    """Whether a row's hours are asked about and its rating is surely at or past the limit."""
    if not _any(drains, "hours_in_question"):
        return pl.lit(False)
    past = (pl.col(channel.low) >= limits[channel.name]).fill_null(False)
    return pl.col("hours_in_question") & pl.col("cautious_hours").is_not_null() & past


def _is_known(channel: Channel) -> pl.Expr:
    """Whether a row has a rating of the channel and hours that nobody asks about."""
    return ~pl.col("hours_in_question") & (pl.col("oil_hours") > 0) & pl.col(channel.low).is_not_null()


def _turned(channel: Channel) -> tuple[pl.Expr, pl.Expr]:
    """Levels on the scale that runs the other way."""
    ends = RATING_LOW + RATING_HIGH
    return (ends - pl.col(channel.high)).alias(channel.low), (ends - pl.col(channel.low)).alias(channel.high)


def _without(drains: pl.DataFrame, questions: tuple[str, ...]) -> pl.DataFrame:
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
