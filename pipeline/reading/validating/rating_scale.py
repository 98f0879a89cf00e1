"""Which end of a rating's scale is clean: turned where the settings say so, asked about where ratings fall."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel

SURELY_FALLING = -1.645
"""Standard deviations under no association, from which ratings fall with hours: one log in twenty by chance, and far
fewer of those whose ratings rise."""
ENOUGH_FILLS = 20_000
FALLING = -0.1
"""Correlation at or under which ratings fall enough to ask: many drains make the least correlation sure."""


def with_scales_turned(drains: WorkingTable, clean_end: Mapping[str, int]) -> WorkingTable:
    """The drains with the ratings of each channel whose clean end is 5 turned, so that 1 is clean.

    clean_end : by column of a rating, as in the settings
    """
    turned = [
        level
        for channel in CHANNELS
        if clean_end.get(channel.rating, RATING_LOW) == RATING_HIGH
        for level in (
            (RATING_LOW + RATING_HIGH - pl.col(channel.high)).alias(channel.low),
            (RATING_LOW + RATING_HIGH - pl.col(channel.low)).alias(channel.high),
        )
    ]
    return drains.with_typed(drains.typed.with_columns(turned)) if turned else drains


def with_scale_questions(drains: WorkingTable, clean_end: Mapping[str, int]) -> WorkingTable:
    """Asks which end of a scale is clean where ratings fall with hours, with each channel's column `in_question`."""
    asked = {
        channel: channel.rating not in clean_end and _ratings_fall(_rated_fills(drains, channel))
        for channel in CHANNELS
    }
    findings = [
        file_finding(
            channel.rating,
            drains.headers.get(channel.rating, channel.rating),
            kind="asked",
            message=f"{channel.name} ratings fall with hours: is {RATING_HIGH} the clean end? Until the settings "
            "say, the shorter interval of both readings counts",
            setting=f"[clean_end]\n{channel.rating} = {RATING_HIGH}  # or {RATING_LOW}, if {RATING_LOW} is clean",
        )
        for channel, falls in asked.items()
        if falls
    ]
    marks = [pl.lit(falls).alias(channel.in_question) for channel, falls in asked.items()]
    return drains.with_typed(drains.typed.with_columns(marks)).with_findings(*findings)


def _rated_fills(drains: WorkingTable, channel: Channel) -> pl.DataFrame:
    """unit_key, _hours [h] and _level of the fills that were rated; a range counts as its middle.

    Of very many fills those of some units, which show as surely which way a scale runs.
    """
    known = (
        (pl.col("oil_hours") > 0)
        & ~pl.col("hours_in_question")
        & pl.col("unit_key").is_not_null()
        & pl.col(channel.low).is_not_null()
        & (pl.col("service_kind") != "top-up").fill_null(True)
        & ~drains.is_held_back
    )
    if (share := drains.typed.height // ENOUGH_FILLS) > 1:
        known = known & (pl.col("unit_key").hash() % share == 0)
    level = (pl.col(channel.low) + pl.col(channel.high)) / 2
    return drains.typed.filter(known).select("unit_key", pl.col("oil_hours").alias("_hours"), level.alias("_level"))


def _ratings_fall(fills: pl.DataFrame) -> bool:
    """Whether ratings fall with the rank of the hours in their unit: a permutation test, stratified by unit.

    Ranks, since one long fill with a clean rating shows nothing. Under no association a unit's sum of products of
    centred values has mean 0 and the variance sum(x^2) sum(y^2) / (n - 1), for n fills in random order (Mantel 1963,
    J. Am. Stat. Assoc. 58, 690-700).
    """
    hours, level = pl.col("_rank"), pl.col("_level")
    pairs = {"xx": (hours, hours), "yy": (level, level), "xy": (hours, level)}
    centred = [
        ((one * other).sum() - one.sum() * other.sum() / pl.len()).alias(name) for name, (one, other) in pairs.items()
    ]
    ranked = fills.with_columns(pl.col("_hours").rank().over("unit_key").alias("_rank"))
    units = (
        ranked.group_by("unit_key", maintain_order=True).agg(*centred, pl.len().alias("n")).filter(pl.col("n") > 1)
    )
    squares = (pl.col("xx") * pl.col("yy")).clip(0.0)
    total = units.select(
        pl.col("xy").sum(),
        (squares / (pl.col("n") - 1)).sum().sqrt().alias("sd"),
        squares.sqrt().sum().alias("most"),
    )
    products, sd, most = total.row(0)
    return bool(sd > 1e-9 and products <= SURELY_FALLING * sd and products <= FALLING * most)
