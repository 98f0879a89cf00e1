"""Which end of a rating's scale is clean: turned where the settings say so, asked about where ratings fall."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import NormalDist
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.scale_headers import says_turned, title_says_turned
from draincurve.pipeline.reading.validating.turned_ratings import Spell, turned_raters, turned_spells
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel
from draincurve.schemas.service_kinds import is_oil_change

FALLING_Z = -1.645
"""Standard deviations under no association, from which ratings fall with hours: one log in twenty by chance, and far
fewer of those whose ratings rise."""
ENOUGH_FILLS = 20_000
FALLING = -0.1
"""Correlation at or under which ratings fall enough to ask: many drains make the least correlation sure."""
FALSE_ALARM = 1e-3
"""Probability that any rater of a channel is asked about where no rater's ratings have to do with hours."""
FEWEST_RATINGS = 8
"""Ratings of one rater, in units rated twice or more by that rater, under which nothing is asked about the rater."""
PLAINLY_RISING = 0.2
"""Correlation with hours, over all units, of a rater who surely does not use a scale that runs the other way."""
VARIED_HOURS = 0.1
"""Standard deviation of log hours within units, under which a rater's ratings show nothing about hours."""

_RATER = pl.coalesce(
    pl.format("by '{}'", pl.col("rated_by").cast(pl.String)),
    pl.format("at '{}'", pl.col("site").cast(pl.String)),
    pl.lit(""),
)
"""Who rated the oil, in words; where that is not named, at which site; empty where neither is."""
_CONFIRMED = pl.col("confirmed").fill_null(False)


def with_scales_turned(drains: WorkingTable, clean_end: Mapping[str, int]) -> WorkingTable:
    """The drains with the ratings of each channel whose clean end is 5 turned, so that 1 is clean.

    clean_end : by column of a rating, as in the settings
    """
    reversed_levels = [
        level
        for channel in CHANNELS
        if clean_end.get(channel.rating, RATING_LOW) == RATING_HIGH
        for level in (
            (RATING_LOW + RATING_HIGH - pl.col(channel.high)).alias(channel.low),
            (RATING_LOW + RATING_HIGH - pl.col(channel.low)).alias(channel.high),
        )
    ]
    return drains.with_parsed(drains.parsed.with_columns(reversed_levels)) if reversed_levels else drains


def with_scale_questions(drains: WorkingTable, clean_end: Mapping[str, int]) -> WorkingTable:
    """Asks which end of a scale is clean where ratings fall with hours, with each channel's column `in_question`.

    Where those of the whole log do not, each rater is tested, or each site where raters are not named: one of them
    may use a scale that runs the other way, always or since some day. Rows that are confirmed are not asked about
    then.
    """
    looks = [_look(drains, channel, clean_end) for channel in CHANNELS]
    apart = turned_raters([look.some_fills for look in looks if not look.settled])
    marks, findings = [], []
    for look in looks:
        channel, answer = look.channel, clean_end.get(look.channel.rating)
        header = drains.headers.get(channel.rating, channel.rating)
        turned = look.turned if look.settled else (*look.turned, *_turned_too(look, looks, apart=apart))
        marks.append((_are_of(turned) if turned else pl.lit(look.falls)).alias(channel.in_question))
        if look.falls:
            seen = "have a header or title that says so" if look.told else "fall with hours"
            message = (
                f"{channel.name} ratings {seen}: is {RATING_HIGH} the clean end? Until the settings "
                "say, the shorter interval of both readings counts"
            )
            setting = f"[clean_end]\n{channel.rating} = {RATING_HIGH}  # or {RATING_LOW}, if {RATING_LOW} is clean"
            findings.append(file_finding(channel.rating, header, kind="asked", message=message, setting=setting))
        typed_clean = RATING_LOW if answer == RATING_HIGH else RATING_HIGH
        for one in turned:
            seen = "fall with hours" if one.rater in look.falling else "look turned round"
            if one not in look.turned and not (one.rater in apart and one.is_always):
                seen = "do not rise with hours, and the other ratings look turned round"
            nobody = not one.rater and bool((look.fills["_rater"] != "").any())
            whose = f"without a rater {one.words}".strip() if nobody else one.words
            message = (
                f"{channel.name} ratings {whose} {seen}: is {typed_clean} the clean end for them? Correct the "
                "cells, or keep them: yes in a column headed confirmed. Until then the shortest of all counts"
            )
            findings.append(file_finding(channel.rating, header, kind="asked", message=message))
    return drains.with_parsed(drains.parsed.with_columns(marks)).with_findings(*findings)


class _Look(NamedTuple):
    """How the ratings of one channel go with hours.

    some_fills : of so many units that they show it.
    told : a header or a title says that 5 is clean.  falls : it does, or those of the whole log fall.
    settled : nothing is asked about single raters.
    falling : raters whose ratings fall.  turned : raters, and their days, whose ratings look turned
    """

    channel: Channel
    fills: pl.DataFrame
    some_fills: pl.DataFrame
    told: bool
    falls: bool
    settled: bool
    falling: tuple[str, ...]
    turned: tuple[Spell, ...]


def _look(drains: WorkingTable, channel: Channel, clean_end: Mapping[str, int]) -> _Look:
    answer, fills = clean_end.get(channel.rating), _rated_fills(drains, channel)
    some = _some_units(fills, drains.parsed.height)
    header = drains.headers.get(channel.rating, channel.rating)
    told = says_turned(header) or any(map(title_says_turned, drains.titles))
    falls = answer is None and (told or _ratings_fall(some))
    if falls or answer == RATING_LOW:
        return _Look(channel, fills, some, told, falls, settled=True, falling=(), turned=())
    raters = _raters_with_falling_ratings(fills)
    spells = [spell for spell in turned_spells(some) if spell.rater not in raters]
    turned = (*(Spell(rater, None, None) for rater in raters), *spells)
    return _Look(channel, fills, some, told, falls, settled=False, falling=tuple(raters), turned=turned)


def _turned_too(look: _Look, looks: Sequence[_Look], *, apart: Sequence[str]) -> list[Spell]:
    """Spells in which another channel's ratings look turned and those of this one do not plainly rise with hours.

    Who turns one scale is likely to turn the other. Of several spells of a rater the first counts, and the whole log
    for raters who are `apart` from the others in all channels together.
    """
    mine = {spell.rater for spell in look.turned}
    others = {rater: Spell(rater, None, None) for rater in apart}
    others |= {spell.rater: spell for other in looks for spell in other.turned}
    return [spell for rater, spell in others.items() if rater not in mine and not _plainly_rise(look.fills, spell)]


def _plainly_rise(fills: pl.DataFrame, spell: Spell) -> bool:
    theirs = fills.filter((pl.col("_rater") == spell.rater) & spell.are_days("_day").fill_null(True))
    rise = theirs.select(pl.corr("_hours", "_level", method="spearman")).item() if theirs.height > 1 else None
    return theirs.is_empty() or (rise is not None and rise >= PLAINLY_RISING)


def _are_of(spells: Sequence[Spell]) -> pl.Expr:
    """Whether rows are of these raters and days, and nobody has confirmed them."""
    each = [pl.lit(spell.rater).eq(_RATER) & spell.are_days("drained_on") for spell in spells]
    return pl.any_horizontal(each).fill_null(False) & ~_CONFIRMED


def _rated_fills(drains: WorkingTable, channel: Channel) -> pl.DataFrame:
    """unit_key, _day, _hours [h], _level, _rater and _confirmed of rated fills; a range is its middle."""
    known = (
        (pl.col("oil_hours") > 0)
        & ~pl.col("hours_in_question")
        & pl.col("unit_key").is_not_null()
        & pl.col(channel.low).is_not_null()
        & is_oil_change()
        & ~drains.is_held_back
    )
    level = (pl.col(channel.low) + pl.col(channel.high)) / 2
    return drains.parsed_where(
        known,
        "unit_key",
        pl.col("drained_on").alias("_day"),
        pl.col("oil_hours").alias("_hours"),
        level.alias("_level"),
        _RATER.alias("_rater"),
        _CONFIRMED.alias("_confirmed"),
    )


def _some_units(fills: pl.DataFrame, height: int) -> pl.DataFrame:
    """Of very many fills those of some units, which show as surely which way a scale runs.

    height : rows of the log
    """
    share = height // ENOUGH_FILLS
    return fills.filter(pl.col("unit_key").hash() % share == 0) if share > 1 else fills


def _ratings_fall(fills: pl.DataFrame) -> bool:
    """Whether the ratings of the whole log fall with hours."""
    sums = _associations(fills.with_columns(pl.lit("").alias("_rater")))
    return not sums.filter(_falls_significantly(FALLING_Z)).is_empty()


def _raters_with_falling_ratings(fills: pl.DataFrame) -> list[str]:
    """Raters, as `_RATER` names them, whose ratings fall with hours beyond doubt."""
    rated = fills.filter((pl.col("_rater") != "") & ~pl.col("_confirmed"))
    # Most raters' ratings plainly rise with hours, which one look at all of them shows; ranks within units cost more.
    overall = rated.group_by("_rater").agg(pl.corr("_hours", "_level").alias("r"))
    doubtful = overall.filter(pl.col("r").is_nan() | pl.col("r").is_null() | (pl.col("r") < PLAINLY_RISING))["_rater"]
    if doubtful.is_empty():
        return []
    sums = _associations(rated.filter(pl.col("_rater").is_in(doubtful.implode())))
    varied = (pl.col("squared_logs") / pl.col("n")).sqrt() >= VARIED_HOURS
    tested = sums.filter((pl.col("n") >= FEWEST_RATINGS) & varied)
    if tested.is_empty():
        return []
    return sorted(tested.filter(_falls_significantly(NormalDist().inv_cdf(FALSE_ALARM / overall.height)))["_rater"])


def _falls_significantly(deviations: float) -> pl.Expr:
    """Whether ratings fall by so many standard deviations of `_associations`, and the correlation is not slight."""
    products, sd = pl.col("products"), pl.col("sd")
    return (sd > 1e-9) & (products <= deviations * sd) & (products <= FALLING * pl.col("most"))


def _associations(fills: pl.DataFrame) -> pl.DataFrame:
    """By _rater, how ratings go with the rank of the hours in their unit: permutation tests, stratified by unit.

    products, their sd under no association, the `most` that they can be, squared_logs of hours, and n fills.
    Ranks, since one long fill with a clean rating shows nothing. Under no association a unit's sum of products of
    centred values has mean 0 and the variance sum(x^2) sum(y^2) / (n - 1), for n fills in random order (Mantel 1963,
    J. Am. Stat. Assoc. 58, 690-700).
    """
    stratum = ["_rater", "unit_key"]
    hours, level, log = pl.col("_rank"), pl.col("_level"), pl.col("_hours").log()
    pairs = {"xx": (hours, hours), "yy": (level, level), "xy": (hours, level), "ll": (log, log)}
    centred = [
        ((one * other).sum() - one.sum() * other.sum() / pl.len()).alias(name) for name, (one, other) in pairs.items()
    ]
    ranked = fills.with_columns(pl.col("_hours").rank().over(stratum).alias("_rank"))
    units = ranked.group_by(stratum, maintain_order=True).agg(*centred, pl.len().alias("n")).filter(pl.col("n") > 1)
    squares = (pl.col("xx") * pl.col("yy")).clip(0.0)
    return units.group_by("_rater", maintain_order=True).agg(
        pl.col("xy").sum().alias("products"),
        (squares / (pl.col("n") - 1)).sum().sqrt().alias("sd"),
        squares.sqrt().sum().alias("most"),
        pl.col("ll").clip(0.0).sum().alias("squared_logs"),
        pl.col("n").sum(),
    )
