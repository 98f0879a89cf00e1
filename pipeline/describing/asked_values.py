"""Known values of the accepted drains: what is asked about is unknown until its writer has answered.

The drain itself remains, and its oil clock restarts at its date. An unknown value can only shorten intervals: the
models are also fitted to each other interpretation that an answer could bring, and the shortest interval counts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.describing.similar_names import NewNames
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel, level_columns

PeopleInOneCell = Mapping[str, Mapping[str, Sequence[str]]]
"""By column, the people that a cell names, where it names several."""
_MOST_PEOPLE = 3
"""People of one cell who are each taken for the one meant; more are not worth a fit each."""
_PEOPLE = "people_in_question"
_WHICH_HOURS = "which hours the rows that are asked about ran"
_WHICH_END = "which end of the scale is clean"
_WHICH_PERSON = "which of the people in one cell is meant"

_ASKED: Mapping[str, tuple[str, ...]] = {
    "hours_in_question": ("oil_hours",),
    "volumes_in_question": ("filled_ml", "drained_ml"),
    "spring_in_question": ("spring_hours",),
    **{channel.in_question: (channel.low, channel.high) for channel in CHANNELS},
    _PEOPLE: level_columns(),
}
"""Columns of drains that say that a question is open, and the columns that are then unknown."""

_OF_CONDITIONS = ("volumes_in_question", "spring_in_question")


class Interpretation(NamedTuple):
    """The drains if the questions are answered one way, and the channels whose ratings then differ.

    questions : that it answers, in words that follow "until it is known"; names : that units have in it
    """

    drains: pl.DataFrame
    channels: tuple[str, ...]
    questions: tuple[str, ...]
    names: NewNames = MappingProxyType({})


def known_drains(drains: pl.DataFrame, *, whose_people: bool = False) -> pl.DataFrame:
    """The drains with null in place of what is asked about; the frame itself where nothing is.

    drains : accepted rows. A frame without the columns of questions has none. whose_people : whether ratings of
    which it is asked whose they are stay, for `with_asked_ratings`
    """
    return _without(drains, [asked for asked in _ASKED if asked != _PEOPLE or not whose_people])


def rows_of_unknown_rating(drains: pl.DataFrame) -> pl.DataFrame:
    """Rows whose rating may show a sign, such as flakes, while it is asked who rated it or on which scale.

    Where the scale is asked about for the whole log, its ratings show none: a sign in all units would say nothing.
    """
    unsure = unsure_scales(drains)
    asked = [channel.in_question for channel in scales_in_question(drains) if channel.name not in unsure]
    asked += [_PEOPLE] if _any(drains, _PEOPLE) else []
    return drains.filter(pl.any_horizontal(asked)) if asked else drains.clear()


def scales_in_question(drains: pl.DataFrame) -> tuple[Channel, ...]:
    """Channels with rows of which it is asked which end of the scale is the clean one."""
    return tuple(channel for channel in CHANNELS if _any(drains, channel.in_question))


def unsure_scales(drains: pl.DataFrame) -> tuple[str, ...]:
    """Names of the channels where that is asked of every row, so that none of their ratings is known."""
    return tuple(channel.name for channel in scales_in_question(drains) if drains[channel.in_question].all())


def other_interpretations(
    drains: pl.DataFrame, limits: Mapping[str, int], people: PeopleInOneCell | None = None
) -> tuple[Interpretation, ...]:
    """Every other interpretation of the drains that could shorten an interval; usually none.

    drains : accepted rows; limits : rating at or over which oil is past fit, by channel.  Rows whose hours are asked
    about count at their cautious_hours, or as entered where there are none; all of their ratings do, since the dirty
    ones alone would make all oil look worse than it is. Where no other hours are known only ratings at or past the
    limit count. Ratings whose scale is asked about count as entered and, in an interpretation of their own, on the
    reversed scale. Where that is asked of some rows only, the rows whose hours are asked about are also interpreted
    without these ratings.
    people : of cells that name several; their rows are interpreted as the first one's, and as each other's.
    """
    scales = scales_in_question(drains)
    frames = [drains]
    if scales:
        frames.append(drains.with_columns(level for channel in scales for level in _reversed(channel)))
    only_some_rows_asked = len(unsure_scales(drains)) < len(scales)
    if only_some_rows_asked:
        frames.append(_without(drains, [channel.in_question for channel in scales]))
    interpretations = []
    for index, frame in enumerate(frames):
        interpreted = _without(frame, (*_OF_CONDITIONS, _PEOPLE))
        interpreted_scales = scales if index < 2 else ()
        asked, all_ratings = set(), set()
        for channel in CHANNELS if _any(interpreted, "hours_in_question") else ():
            known, rated, dirty = interpreted.select(
                _is_known(channel).any().alias("known"),
                (pl.col("hours_in_question") & pl.col(channel.low).is_not_null()).any().alias("rated"),
                _is_dirty(channel, limits).any().alias("dirty"),
            ).row(0)
            if known and rated:
                all_ratings.add(channel)
            if dirty or channel in all_ratings:
                asked.add(channel)
        if interpreted_scales:
            known_hours = _without(interpreted, ("hours_in_question",))
            interpretations.append(Interpretation(known_hours, _names(interpreted_scales), (_WHICH_END,)))
        if asked:
            counted = with_asked_ratings(interpreted, limits, all_ratings=all_ratings)
            questions = (_WHICH_END, _WHICH_HOURS) if interpreted_scales else (_WHICH_HOURS,)
            interpretations.append(Interpretation(counted, _names({*interpreted_scales, *asked}), questions))
    return (*interpretations, *_as_each_of_the_people(drains, people or {}))


def _as_each_of_the_people(drains: pl.DataFrame, people: PeopleInOneCell) -> Iterator[Interpretation]:
    """The rows whose people are asked about, assigned to the first person of their cells, to the second and so on."""
    if not _any(drains, _PEOPLE):
        return
    known = known_drains(drains, whose_people=True)
    most = max((len(names) for cells in people.values() for names in cells.values()), default=0)
    for number in range(min(most, _MOST_PEOPLE)):
        names = {
            column: {cell: people_named[min(number, len(people_named) - 1)] for cell, people_named in cells.items()}
            for column, cells in people.items()
        }
        of_rows = [
            pl.when(_PEOPLE)
            .then(pl.col(column).cast(pl.String).replace(person_of_cell))
            .otherwise(pl.col(column).cast(pl.String))
            .cast(known.schema[column])
            .alias(column)
            for column, person_of_cell in names.items()
        ]
        yield Interpretation(known.with_columns(of_rows), _names(CHANNELS), (_WHICH_PERSON,), names)


def _names(channels: Collection[Channel]) -> tuple[str, ...]:
    return tuple(channel.name for channel in CHANNELS if channel in channels)


def with_asked_ratings(
    drains: pl.DataFrame, limits: Mapping[str, int], *, all_ratings: Collection[Channel] = ()
) -> pl.DataFrame:
    """The drains in which rows whose hours are asked about count at their cautious_hours.

    Of their ratings, and of those of people who are asked about, those at or past the limit remain. Of the channels
    in `all_ratings` all do, at the hours as entered where cautious_hours are not known.
    """
    if _any(drains, _PEOPLE):
        drains = drains.with_columns(
            pl.when(~pl.col(_PEOPLE) | (pl.col(channel.low) >= limits[channel.name])).then(level).alias(level)
            for channel in CHANNELS
            for level in (channel.low, channel.high)
        )
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


def _reversed(channel: Channel) -> tuple[pl.Expr, pl.Expr]:
    """Levels, with those that are asked about on the reversed scale."""
    ends, asked = RATING_LOW + RATING_HIGH, pl.col(channel.in_question)
    low, high = pl.col(channel.low), pl.col(channel.high)
    return (
        pl.when(asked).then(ends - high).otherwise(low).alias(channel.low),
        pl.when(asked).then(ends - low).otherwise(high).alias(channel.high),
    )


def _without(drains: pl.DataFrame, questions: Sequence[str]) -> pl.DataFrame:
    """The drains with null in place of what some questions are about."""
    open_ones = [asked for asked in questions if _any(drains, asked)]
    names = dict.fromkeys(name for asked in open_ones for name in _ASKED[asked])
    unknown = [
        pl.when(~pl.any_horizontal(asked for asked in open_ones if name in _ASKED[asked])).then(name).alias(name)
        for name in names
    ]
    return drains.with_columns(unknown) if unknown else drains


def _any(drains: pl.DataFrame, asked: str) -> bool:
    return asked in drains.columns and bool(drains[asked].any())
