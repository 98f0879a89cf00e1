"""Signs that call for an inspection whatever the interval: milky or burnt oil, a leak, or a rating such as flakes."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.categorical_names import as_texts
from draincurve.schemas.channels import CHANNELS, Channel, Sign
from draincurve.schemas.columns import SIGNS
from draincurve.schemas.service_kinds import is_oil_change

WARNED = "warned"
"""Column that says whether the note holds a warning, such as do not use."""
IN_QUESTION = "signs_in_question"
"""Column that names the signs that a note may mean and that are asked about."""
NOTE_COLUMNS = {WARNED: pl.Boolean, IN_QUESTION: pl.String}
"""Columns of what a note says, which a table may lack."""
_WORDS = {WARNED: "warning in the note"}


def _from_note(table: pl.DataFrame) -> list[pl.Expr]:
    known = {
        name: pl.col(name) if name in table.columns else pl.lit(None, kind) for name, kind in NOTE_COLUMNS.items()
    }
    return [known[WARNED].alias(WARNED), known[IN_QUESTION].fill_null("").alias(IN_QUESTION)]


def uncleared_signs(drains: pl.DataFrame, signs_only: pl.DataFrame | None) -> pl.DataFrame:
    """Signs that were seen and not cleared since: columns unit_key, signs ("milky, leak"), seen_on.

    seen_on is the day of the last drain that showed one of them, null where no such day can be read.
    A rating between the level below a sign and the sign's own shows a possible sign, and its levels are named. So is
    a sign that a note may mean: it counts until it is answered.
    signs_only : held-back rows, which can show a sign and clear none (see `held_back_signs`). One without a date may
    be later than every drain, so none clears it.
    """
    needed = ("unit_key", "drained_on", "oil_hours", "service_kind")
    rated = {sign.name: pl.col(channel.high) >= sign.level for channel in CHANNELS if (sign := channel.sign)}
    levels = [name for channel in CHANNELS if channel.sign for name in (channel.low, channel.high)]
    names = (*SIGNS, WARNED, *rated)
    signs = [pl.col(name).cast(pl.Boolean) for name in SIGNS]
    tables = [table for table in (drains, signs_only) if table is not None]
    rows = pl.concat([table.select(*needed, *signs, *levels, *_from_note(table), **rated) for table in tables])
    seen = rows.select(pl.any_horizontal(pl.col(name).fill_null(False) for name in names)).to_series()
    ordered = (
        rows.filter(pl.col("unit_key").is_in(rows["unit_key"].filter(seen).unique().implode()))
        .sort("unit_key", "drained_on", "oil_hours", nulls_last=[False, True, False], maintain_order=True)
        .with_columns(pl.int_range(pl.len()).over("unit_key").alias("position"))
    )
    words = {name: _noted_words(name) for name in (*SIGNS, WARNED)} | {
        sign.name: _rated_words(channel, sign) for channel in CHANNELS if (sign := channel.sign)
    }
    uncleared = [pl.when(_is_uncleared(name)).then(words[name]).alias(name) for name in names]
    return (
        ordered.group_by("unit_key")
        .agg(*uncleared, pl.col("drained_on").filter(pl.any_horizontal(map(_is_shown, names))).max().alias("seen_on"))
        .select("unit_key", pl.concat_str(names, separator=", ", ignore_nulls=True).alias("signs"), "seen_on")
        .filter(pl.col("signs") != "")
    )


def inspect_now(drains: pl.DataFrame, signs_only: pl.DataFrame, *, units: pl.DataFrame | None) -> pl.DataFrame:
    """Units in service with an uncleared sign: unit_id, site, drained_on, signs.

    drained_on is the day of the last drain that showed one of the signs, null where no such day can be read.
    signs_only : held-back rows that show a sign; units : the register, or None.
    """
    columns = ["unit_id", "site"]
    to_inspect = uncleared_signs(drains, signs_only)
    rows = pl.concat([table.select("unit_key", "drained_on", *columns) for table in (drains, signs_only)])
    rows = rows.filter(pl.col("unit_key").is_in(to_inspect["unit_key"].implode()))
    last = rows.sort("drained_on", maintain_order=True).group_by("unit_key").agg(pl.col(columns).last())
    to_inspect = to_inspect.join(last, on="unit_key", how="left")
    if units is not None:
        to_inspect = to_inspect.join(units.filter(~pl.col("in_service")), on="unit_key", how="anti")
    return as_texts(to_inspect.sort("unit_key").select(*columns, pl.col("seen_on").alias("drained_on"), "signs"))


def _is_uncleared(name: str) -> pl.Expr:
    """Whether a sign was seen and no later drain cleared it.

    An explicit "no" at a later drain clears a sign, and so does a later rebuild; a blank is unknown, and a note
    without a warning says nothing. A top-up can show a sign but not clear one.
    """
    last_seen = pl.col("position").filter(pl.col(name).fill_null(False)).max()
    return (last_seen.is_not_null() & (_last_cleared(name) < last_seen)).fill_null(False)


def _is_shown(name: str) -> pl.Expr:
    """Whether a drain shows a sign that no later one cleared."""
    return pl.col(name).fill_null(False) & (pl.col("position") > _last_cleared(name))


def _last_cleared(name: str) -> pl.Expr:
    """Position of the last drain that cleared a sign, -1 without one."""
    rebuilt = (pl.col("service_kind") == "rebuild").fill_null(False)
    clean = ~pl.col(name).fill_null(True)
    clears = ~pl.col(name).fill_null(False) & (rebuilt | clean) & is_oil_change()
    return pl.col("position").filter(clears).max().fill_null(-1)


def _noted_words(name: str) -> pl.Expr:
    """The sign, or that it is possible where every sight of it since it was cleared is a note that is asked about."""
    asked = pl.col(IN_QUESTION).str.split(",").list.contains(name).filter(_is_shown(name))
    word = _WORDS.get(name, name)
    return pl.when(asked.all()).then(pl.lit(f"{word} possible: its note is asked about")).otherwise(pl.lit(word))


def _rated_words(channel: Channel, sign: Sign) -> pl.Expr:
    """The sign, or that it is possible where no rating since it was cleared is sure to reach its level.

    A rating whose lower end is not known counts as sure: unknown is never safe.
    """
    shown = _is_shown(sign.name)
    low = pl.col(channel.low).fill_null(sign.level).filter(shown).max()
    high = pl.col(channel.high).filter(shown).max()
    possible = pl.format(f"{sign.name} possible: {channel.name} rated {{}}-{{}}", low, high)
    return pl.when(low < sign.level).then(possible).otherwise(pl.lit(sign.name))
