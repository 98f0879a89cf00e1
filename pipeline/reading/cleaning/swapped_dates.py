"""Dates whose day and month a spreadsheet may have swapped, as it took them for dates of its own order."""

from __future__ import annotations

import math
from collections.abc import Collection

import polars as pl

from draincurve.pipeline.reading.cleaning.date_texts import PossibleDates

SWAPPED_CHANCE, DAYS_UP_TO_12 = 0.05, 0.4
"""Probability under which it is no chance that dates written in full all have days up to 12, and the others none; of
dates in full of which a few have later days it must be as small by itself."""


def are_swapped(full: pl.Series, others: Collection[PossibleDates]) -> bool:
    """Whether a spreadsheet has likely swapped day and month of the dates that are written in full.

    It takes 05/01 for a date of its own order, and leaves 17/01 a text: then all days of the one kind are up to 12,
    and all those of the other over 12. Among the dates in full there may be a few that were typed so.
    """
    texts = [item for item in others if any(item.by_order[:2])]
    days = full.unique()
    if not texts or any(None not in item.by_order[:2] for item in texts):
        return False
    late = int((days.dt.day() > 12).sum())
    so_few = _chance_of_so_few(late, days.len())
    chance = so_few * (1 - DAYS_UP_TO_12) ** len(texts)
    return chance <= SWAPPED_CHANCE and (late == 0 or so_few <= SWAPPED_CHANCE)


def _chance_of_so_few(late: int, days: int) -> float:
    """The probability that no more than `late` of some days are over 12."""
    over = 1 - DAYS_UP_TO_12
    return sum(math.comb(days, count) * over**count * DAYS_UP_TO_12 ** (days - count) for count in range(late + 1))


def in_doubt(name: str) -> tuple[pl.Expr, pl.Expr]:
    """Dates written in full that may be another day, without a value, and the reason."""
    day = pl.col(name)
    other = pl.date(day.dt.year(), pl.when(day.dt.day() <= 12).then(day.dt.day()), day.dt.month())
    text = (
        "may be {} or {}: a spreadsheet may have swapped day and month, since the days over 12 are texts. Correct it "
        "or write the texts as dates, too"
    )
    doubt = (other != day).fill_null(value=False)
    reason = pl.when(doubt).then(pl.format(text, day.cast(pl.String), other.cast(pl.String)))
    return pl.when(~doubt).then(day).alias(name), pl.coalesce(reason, "reason").alias("reason")
