"""Ratings that one rater gives the other way round since some day, or gave so until some day.

A rating of clean oil as 5 is likelier on a scale that runs the other way. The logarithms of these likelihood ratios
are summed from each day to the end of a rater's ratings, and from their beginning to each day. If no rater turns the
scale, a sum of c or more has at most the probability exp(-c) (Ville 1939, Etude critique de la notion de collectif).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import log
from typing import NamedTuple

import numpy as np
import polars as pl

from draincurve.schemas.array_types import Floats
from draincurve.schemas.channels import RATING_HIGH, RATING_LOW

FALSE_ALARM = 1e-2
"""Probability that any rater of a channel is asked about where none turns the scale."""
MIDDLE = (RATING_LOW + RATING_HIGH) / 2
FEWEST_FILLS = 20
"""Rated fills of a log under which it does not show what rating to expect after so many hours."""
MOST_GROUPS, FEWEST_OF_A_GROUP = 8, 5
"""Groups of fills of about the same hours, whose usual rating is the expected one, and the fewest fills in one."""
UNIT_FILLS = 2
"""A unit's usual distance from the others' ratings counts as if so many of its fills had none."""
LEAST_SD = 0.6
"""Of ratings about the expected one, since few ratings may look alike by chance [levels]."""
SD_BY_MEAN_DEVIATION = 1.25
"""Standard deviation of a normal variable over its mean absolute deviation, which turned ratings move less."""
NEARLY_AS_LIKELY = 3.0
"""Sums within this of the largest are nearly as likely; the longest spell among them is asked about."""
FEWEST_OF_OTHERS, SMALL_SHARE = 12, 0.05
"""Rated fills of others that show what to expect of a rater; a rater's share of all fills that does not move it."""
NO_RELATION = 0.05
"""Probability that any rater is asked about whose ratings have nothing to do with hours."""
PLAINLY_RISING, FALLING = 0.2, -0.1
"""Correlation of ratings with hours that speaks against a turned scale; and for one where nobody else rates."""


class Spell(NamedTuple):
    """Days in which a rater's ratings look turned; rater : in words, empty where none is named.

    since, until : the first and the last of the days, None where they begin or end with the log
    """

    rater: str
    since: date | None
    until: date | None

    def are_days(self, column: str) -> pl.Expr:
        """Whether the days of a column are among them."""
        after = pl.lit(True) if self.since is None else pl.col(column) >= self.since
        return after if self.until is None else after & (pl.col(column) <= self.until)

    @property
    def is_always(self) -> bool:
        """Whether they are all days."""
        return self.since is None and self.until is None

    @property
    def words(self) -> str:
        """Whose ratings they are, and since or until when."""
        ends = {"since": self.since, "until": self.until}
        return " ".join([self.rater, *(f"{word} {day}" for word, day in ends.items() if day)]).strip()


def turned_spells(fills: pl.DataFrame) -> tuple[Spell, ...]:
    """Of each rater the days in which ratings look turned, if there are any.

    fills : rated drains, with unit_key, _day, _hours [h], _level, _rater (as in `Spell`) and _confirmed. A rater who
    stands out among others is asked about unless the ratings plainly rise with hours; one alone only if they fall.
    """
    if fills.height < FEWEST_FILLS:
        return ()
    usual = pl.Series(_usual_levels(fills["_hours"].to_numpy(), fills["_level"].to_numpy()))
    apart, level, expected = pl.col("_level") - usual, pl.col("_level"), pl.col("_expected")
    of_unit = pl.col("_apart").median() * pl.len() / (pl.len() + UNIT_FILLS)
    sd = pl.max_horizontal(SD_BY_MEAN_DEVIATION * (level - expected).abs().mean(), LEAST_SD)
    rated = (
        fills.lazy()
        .with_columns(apart.alias("_apart"))
        .with_columns((level - pl.col("_apart") + of_unit.over("unit_key")).alias("_expected"))
        .with_columns((2.0 * (level - MIDDLE) * (MIDDLE - expected) / sd**2).alias("_turned"))
        .filter(pl.col("_day").is_not_null() & ~pl.col("_confirmed"))
        .collect()
    )
    sums = rated.lazy().group_by("_rater", "_day").agg(pl.col("_turned").sum()).sort("_rater", "_day")
    largest = pl.max_horizontal(pl.col("_turned").cum_sum(reverse=reverse).max() for reverse in (False, True))
    by_rater = sums.group_by("_rater", maintain_order=True).agg(largest.alias("_largest")).collect()
    enough = log(2 * max(1, by_rater.height) / FALSE_ALARM)
    likely = by_rater.filter(pl.col("_largest") >= enough)["_rater"]
    spells = (_spell(rated, rater, enough=enough) for rater in likely)
    return tuple(spell for spell in spells if spell is not None)


def turned_raters(channels: Sequence[pl.DataFrame]) -> tuple[str, ...]:
    """Raters whose ratings fall with what the others' show to expect, in all channels together.

    channels : rated drains of each, as `turned_spells` takes them; confirmed ones do not count. A rater may be a
    level cleaner or dirtier than the others throughout: only how ratings go up and down with the hours is compared.
    """
    rated = [fills.filter(~pl.col("_confirmed")) for fills in channels]
    if not rated or (count := pl.concat([fills["_rater"] for fills in rated]).n_unique()) < 2:
        return ()
    against_rising, against_none = log(2 * count / FALSE_ALARM), log(count / NO_RELATION)
    rise = pl.corr("_hours", "_level").fill_nan(0.0).fill_null(0.0)
    doubtful = pl.concat([fills.group_by("_rater").agg(rise.alias("rise")) for fills in rated])
    doubtful = doubtful.group_by("_rater").agg(pl.col("rise").mean()).filter(pl.col("rise") < PLAINLY_RISING)
    found = []
    for rater in doubtful["_rater"].sort():
        sums = pl.concat([_against_others(fills, rater) for fills in rated])
        units = sums.group_by("unit_key").agg(pl.col("rising", "none").sum())
        rising, none = (units[name].to_numpy() for name in ("rising", "none"))
        several_units = rising.sum() - rising.max(initial=0.0) >= against_rising / 2
        if several_units and rising.sum() >= against_rising and none.sum() >= against_none:
            found.append(rater)
    return tuple(found)


def _against_others(fills: pl.DataFrame, rater: str) -> pl.DataFrame:
    """Of each fill of a rater, unit_key and logarithms of the likelihood ratio of a turned scale, by others' ratings.

    rising : against a scale like the others'; none : against ratings that have nothing to do with hours
    """
    is_mine = fills["_rater"] == rater
    mine, others = fills.filter(is_mine), fills.filter(~is_mine)
    nothing = pl.DataFrame(schema={"unit_key": fills.schema["unit_key"], "rising": pl.Float64, "none": pl.Float64})
    if mine.height < 2 or others.height < FEWEST_OF_OTHERS:
        return nothing
    base = fills if mine.height <= SMALL_SHARE * fills.height else others
    expected = _usual_levels(base["_hours"].to_numpy(), base["_level"].to_numpy(), at=mine["_hours"].to_numpy())
    usual = _usual_levels(base["_hours"].to_numpy(), base["_level"].to_numpy())
    sd = max(SD_BY_MEAN_DEVIATION * float(np.abs(base["_level"].to_numpy() - usual).mean()), LEAST_SD)
    level = mine["_level"].to_numpy()
    x, y = expected - expected.mean(), level - level.mean()
    return mine.select("unit_key", rising=pl.Series(-2 * x * y / sd**2), none=pl.Series((-x * y - x * x / 2) / sd**2))


def _usual_levels(hours: Floats, levels: Floats, *, at: Floats | None = None) -> Floats:
    """The usual rating after each number of hours [h], or after those of `at`; it never falls with hours.

    It is the mean of the middle half in each group of fills, which a few turned ratings do not move.
    """
    order = np.argsort(hours, kind="stable")
    groups = np.array_split(order, max(1, min(MOST_GROUPS, hours.size // FEWEST_OF_A_GROUP)))
    middle = [np.sort(levels[group])[group.size // 4 : group.size - group.size // 4].mean() for group in groups]
    log_hours = [float(np.median(np.log(hours[group]))) for group in groups]
    return np.interp(np.log(hours if at is None else at), log_hours, np.maximum.accumulate(middle))


def _spell(rated: pl.DataFrame, rater: str, *, enough: float) -> Spell | None:
    """The days of one rater, by the larger of both sums."""
    of_rater = pl.col("_rater") == rater
    by_day = rated.filter(of_rater).group_by("_day").agg(pl.col("_turned").sum()).sort("_day")
    days, sums = by_day["_day"], by_day["_turned"].to_numpy()
    from_day, to_day = np.cumsum(sums[::-1])[::-1], np.cumsum(sums)
    if from_day.max() >= to_day.max():
        first = int(np.flatnonzero(from_day >= from_day.max() - NEARLY_AS_LIKELY)[0])
        spell = Spell(rater, days[first] if first else None, None)
    else:
        last = int(np.flatnonzero(to_day >= to_day.max() - NEARLY_AS_LIKELY)[-1])
        spell = Spell(rater, None, days[last] if last < days.len() - 1 else None)
    in_days = rated.filter(spell.are_days("_day"))
    mine, others = in_days.filter(of_rater), in_days.filter(~of_rater)
    of_units = mine.group_by("unit_key").agg(pl.col("_turned").sum())["_turned"].to_numpy()
    several_units = of_units.sum() - of_units.max() >= enough / 2  # one dirty unit is no turned scale
    alone = others.is_empty() or others["_turned"].to_numpy().sum() >= 0
    rise = _correlation(np.log(mine["_hours"].to_numpy()), mine["_level"].to_numpy())
    return spell if several_units and rise <= (FALLING if alone else PLAINLY_RISING) else None


def _correlation(x: Floats, y: Floats) -> float:
    """The correlation of two variables, 0 where one of them does not vary."""
    deviations = float(np.std(x) * np.std(y))
    return float(np.mean((x - x.mean()) * (y - y.mean()))) / deviations if deviations > 0 else 0.0
