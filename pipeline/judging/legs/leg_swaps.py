"""Entries of two legs that may have been swapped: on one day, or from one day on.

Swapping labels changes only which leg's hours ratio applies to a drain, so each candidate is a complete model of the
pair's ratings, with the ratios integrated out over their prior. If that prior held, the likelihood ratio to the log
as written would have mean 1 where nothing was swapped, and exceed k with probability 1/k at most (Markov's
inequality); over M candidates the threshold is M over the accepted probability. Hour meters alone can show a swap:
both continue only from the other leg's last reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

import numpy as np
import polars as pl
from scipy.special import logsumexp

from draincurve.pipeline.describing import LegPair, oil_changes
from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.legs.leg_likelihood import FALSE_ALARM, GRID, LOG_PRIOR, rating_log_likelihoods
from draincurve.schemas.array_types import Booleans, Floats, Integers

METER_OFF_H = 1.0
METER_OFF_SHARE = 0.1
"""A meter that is off by more than both does not continue its last reading (limits as in the check of hours)."""

PAIRS_AT_ONCE = 1000
"""Pairs evaluated on the grid together, which bounds the memory of a large fleet."""

UNLIKELY = -3.0
"""Log likelihood ratio below which the ratings contradict the meters."""


@dataclass(frozen=True, slots=True)
class PossibleSwap:
    """Entries of two legs that fit each other's history better than their own: asked about, never rewritten.

    first_on : day of the entries; from_then_on : all entries from that day fit better swapped, else those of that
    day alone; times_likelier : how much likelier the pair's ratings are with them swapped; by_meter : the hour meters
    of both legs carry on only if they are swapped.
    """

    machine: str
    left: str
    right: str
    first_on: date
    from_then_on: bool
    times_likelier: float
    by_meter: bool


class SwapSearch(NamedTuple):
    """Possible swaps, and pairs in which a swap on one day would not have shown, by the key of the left leg.

    Such a swap would show on a day on which the entries as written are so much likelier than swapped ones that the
    same entries, swapped, would have been asked about; or where the meters would not carry on.
    """

    swaps: tuple[PossibleSwap, ...]
    unseen: tuple[str, ...]


def possible_swaps(fits: Sequence[ChannelFit], pairs: tuple[LegPair, ...], *, drains: pl.DataFrame) -> SwapSearch:
    """The best candidate of each pair that passes the threshold, earliest first.

    drains : accepted drains, for the hour meters.
    """
    keys = tuple(pair.left for pair in pairs)
    if not pairs:
        return SwapSearch((), ())
    legs = _legs(pairs)
    of_legs = drains.filter(pl.col("unit_key").is_in(legs["unit_key"].implode()))
    changes = oil_changes(of_legs, of_legs.columns)
    candidates = _candidates(changes.join(legs, on="unit_key", how="inner"))
    if not candidates.height:
        return SwapSearch((), keys)
    gains = np.zeros((2, candidates.height))
    block = candidates["pair"].to_numpy() // PAIRS_AT_ONCE
    for number in np.unique(block):
        some, here = np.flatnonzero(block == number), pl.col("pair") // PAIRS_AT_ONCE == number
        for fit in fits:
            gains[:, some] += _gains(fit, legs.filter(here), candidates=candidates[some])
    first = candidates["first"].to_numpy()
    gains[1, first] = -np.inf  # all entries swapped: the same log with other names
    threshold = np.log((candidates.height * 2 - first.sum()) / FALSE_ALARM)
    crossed, as_written = _meters_cross(changes.join(legs, on="unit_key", how="inner"), candidates)
    best = np.maximum(gains[0], gains[1])
    asked = (best >= threshold) | (crossed & (best >= UNLIKELY))
    scored = candidates.with_columns(
        pl.Series("gain", best), pl.Series("onwards", gains[1] > gains[0]), pl.Series("crossed", crossed)
    ).with_columns(_meters_say_onwards().alias("onwards"))
    ranked = scored.filter(pl.Series(asked)).sort(
        "crossed",
        pl.when("crossed").then("drained_on"),
        "gain",
        descending=[True, False, True],
        maintain_order=True,
    )
    top = ranked.unique("pair", keep="first", maintain_order=True)
    swaps = tuple(_swap(pairs[row["pair"]], row) for row in top.sort("drained_on", "pair").iter_rows(named=True))
    shown = set(candidates["pair"].to_numpy()[(np.abs(gains[0]) >= threshold) | as_written | crossed].tolist())
    return SwapSearch(swaps, tuple(key for index, key in enumerate(keys) if index not in shown))


def _meters_say_onwards() -> pl.Expr:
    """Where meters cross: they cross back at the pair's next service if only one day's entries were swapped."""
    crosses_back = pl.col("crossed").shift(-1).over("pair").fill_null(False)
    return pl.when("crossed").then(~crosses_back).otherwise("onwards")


def _swap(pair: LegPair, row: dict[str, Any]) -> PossibleSwap:
    return PossibleSwap(
        machine=pair.machine,
        left=pair.left,
        right=pair.right,
        first_on=row["drained_on"],
        from_then_on=row["onwards"],
        times_likelier=float(np.exp(min(row["gain"], 700.0))),
        by_meter=row["crossed"],
    )


def _legs(pairs: tuple[LegPair, ...]) -> pl.DataFrame:
    """Columns unit_key, pair, left: one row a leg."""
    rows = [
        (key, index, left)
        for index, pair in enumerate(pairs)
        for key, left in ((pair.left, True), (pair.right, False))
    ]
    return pl.DataFrame(rows, schema={"unit_key": pl.String, "pair": pl.Int64, "left": pl.Boolean}, orient="row")


def _candidates(entries: pl.DataFrame) -> pl.DataFrame:
    """Days on which both legs of a pair were drained: pair, drained_on, first (the pair has no earlier drain)."""
    both = entries.group_by("pair", "drained_on").agg(pl.col("left").n_unique().alias("legs"))
    begun = entries.group_by("pair").agg(pl.col("drained_on").min().alias("begun"))
    return (
        both.filter(pl.col("legs") == 2)
        .join(begun, on="pair")
        .select("pair", "drained_on", (pl.col("drained_on") == pl.col("begun")).alias("first"))
        .sort("pair", "drained_on")
    )


@dataclass(frozen=True)
class _Sums:
    """Log likelihoods over the grid, (C, Q) each: of a leg's ratings before the day, on it, and in all."""

    before: Floats
    on_day: Floats
    total: Floats


def _gains(fit: ChannelFit, legs: pl.DataFrame, *, candidates: pl.DataFrame) -> Floats:
    """Log likelihood ratios of the candidates in one channel, (2, C): that day alone, and from that day on."""
    rows = (
        fit.drains.rows.select("unit_key", "drained_on")
        .with_row_index("row")
        .join(legs, on="unit_key", how="inner", maintain_order="left")
    )
    log_likelihoods = rating_log_likelihoods(fit, rows["row"].to_numpy())
    left, right = (_sums(rows, log_likelihoods, candidates=candidates, left=side) for side in (True, False))

    def marginal(of_left: Floats, of_right: Floats) -> Floats:
        return np.asarray(logsumexp(of_left + LOG_PRIOR, axis=1) + logsumexp(of_right + LOG_PRIOR, axis=1))

    as_written = marginal(left.total, right.total)
    alone = marginal(left.total - left.on_day + right.on_day, right.total - right.on_day + left.on_day)
    onwards = marginal(left.before + right.total - right.before, right.before + left.total - left.before)
    return np.stack((alone - as_written, onwards - as_written))


def _sums(rows: pl.DataFrame, log_likelihoods: Floats, *, candidates: pl.DataFrame, left: bool) -> _Sums:
    """Sums of one leg of each candidate's pair; zero where the leg has no ratings in the channel."""
    side = rows.with_row_index("at").filter(pl.col("left") == left).sort("pair", "drained_on", maintain_order=True)
    running = np.vstack((np.zeros((1, GRID.size)), np.cumsum(log_likelihoods[side["at"].to_numpy()], axis=0)))
    stamp = _stamp(side["pair"], side["drained_on"])
    of_pair, day = candidates["pair"], candidates["drained_on"]
    begin, end = (running[np.searchsorted(side["pair"].to_numpy(), of_pair, how)] for how in ("left", "right"))
    wanted = _stamp(of_pair, day)
    before, after = (running[np.searchsorted(stamp, wanted, how)] for how in ("left", "right"))
    return _Sums(before - begin, after - before, end - begin)


def _stamp(pair: pl.Series, day: pl.Series) -> Integers:
    """Pair and day as one number that sorts by both."""
    days = day.cast(pl.Int32).to_numpy().astype(np.int64)
    return np.asarray(pair.to_numpy().astype(np.int64) * 10_000_000 + days)


def _meters_cross(entries: pl.DataFrame, candidates: pl.DataFrame) -> tuple[Booleans, Booleans]:
    """Whether both meters fit only if the two entries of that day are swapped, or only as written, (C,) each."""
    ordered = entries.sort("unit_key", "drained_on", "line").with_columns(
        pl.col("meter_hours").shift(1).over("unit_key").alias("meter_before")
    )
    by_side = [
        ordered.filter(pl.col("left") == left)
        .unique(["pair", "drained_on"], keep="none")
        .select("pair", "drained_on", "meter_hours", "oil_hours", "meter_before")
        for left in (True, False)
    ]
    both = by_side[0].join(by_side[1], on=["pair", "drained_on"], suffix="_right")
    allowed = [pl.max_horizontal(METER_OFF_H, METER_OFF_SHARE * pl.col(f"oil_hours{end}")) for end in ("", "_right")]

    def fits(before: tuple[str, str]) -> list[pl.Expr]:
        return [
            (pl.col(f"meter_hours{end}") - pl.col(f"meter_before{start}") - pl.col(f"oil_hours{end}")).abs() <= most
            for end, start, most in zip(("", "_right"), before, allowed, strict=True)
        ]

    as_written, swapped = fits(("", "_right")), fits(("_right", ""))
    crossed = ~as_written[0] & ~as_written[1] & swapped[0] & swapped[1]
    only_as_written = as_written[0] & as_written[1] & ~swapped[0] & ~swapped[1]
    crossings = candidates.join(
        both.select("pair", "drained_on", crossed.alias("crossed"), only_as_written.alias("only_as_written")),
        on=["pair", "drained_on"],
        how="left",
        maintain_order="left",
    )
    return crossings["crossed"].fill_null(False).to_numpy(), crossings["only_as_written"].fill_null(False).to_numpy()
