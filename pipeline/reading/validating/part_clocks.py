"""Hours on measured parts against the log: clocks that run backwards, rebuilds, and other hours on the oil."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, joined_findings, row_findings
from draincurve.pipeline.reading.validating.oil_samples import with_drains_of_samples
from draincurve.schemas.quantities import ISO_CODE, QUANTITY_OF
from draincurve.schemas.service_kinds import is_oil_change
from draincurve.schemas.settings import LaboratoryRule

OIL_QUANTITIES = (*(name for name, quantity in QUANTITY_OF.items() if quantity.clock == "oil"), ISO_CODE)
"""Quantities whose hours are those on the oil, which start anew at every drain."""


def with_part_clocks(
    working: WorkingTable, drains: pl.DataFrame, rule: LaboratoryRule, *, register: pl.Series | None
) -> WorkingTable:
    """Holds back clocks that run backwards and rebuilds after their reading; asks about what the log cannot confirm.

    drains : accepted rows; rule : which drain a sample belongs to; register : its unit_key, None without a register.
    Hours on a part may fall only where the log or a reading has a rebuild, or new parts, in between. A rebuild before
    the log begins is asked about, since the log cannot show the hours in between.
    """
    rows = working.parsed.filter(~working.is_held_back).drop_nulls(["unit_key", "measured_on", "quantity"])
    pieces = [_rebuilt_later(rows), _rebuilt_before_the_log(rows, drains), _other_hours(rows, drains)]
    samples = with_drains_of_samples(rows.filter(pl.col("quantity").is_in(OIL_QUANTITIES)), drains, rule)
    known = drains["unit_key"].cast(pl.String)
    known = known if register is None else pl.concat([known, register.cast(pl.String)])
    pieces += [_doubtful_samples(samples), _samples_of_no_drain(samples, known)]
    pieces.append(_backwards(rows.filter(~pl.col("quantity").is_in(OIL_QUANTITIES)), drains))
    return working.with_findings(*pieces)


def reset_days(rows: pl.DataFrame, drains: pl.DataFrame, *, with_new_parts: bool) -> pl.DataFrame:
    """Days on which the hours on a unit's parts started anew: unit_key, reset_on, sorted.

    rows : measurements, whose rebuilt_on counts. with_new_parts : whether drains with new parts count as well
    """
    anew = pl.col("service_kind") == "rebuild"
    if with_new_parts:
        anew = anew | pl.col("new_parts").is_not_null()
    logged = drains.filter(anew).select("unit_key", pl.col("drained_on").alias("reset_on"))
    stated = rows.select("unit_key", pl.col("rebuilt_on").alias("reset_on")).drop_nulls()
    return pl.concat([logged, stated]).unique().sort("unit_key", "reset_on")


def _rebuilt_later(rows: pl.DataFrame) -> pl.DataFrame:
    late = rows.filter(pl.col("rebuilt_on") > pl.col("measured_on"))
    message = "is after the day of the reading: correct the wrong date"
    return row_findings(late, "rebuilt_on", kind="held back", message=message)


def _rebuilt_before_the_log(rows: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    begins = drains.group_by("unit_key").agg(pl.col("drained_on").min().alias("_begins"))
    early = rows.join(begins, on="unit_key", how="inner", maintain_order="left").filter(
        pl.col("rebuilt_on") < pl.col("_begins")
    )
    message = pl.format(
        "is before the unit's first drain in the log ({}): the log cannot show the hours in between, so only "
        "component_hours as typed count",
        "_begins",
    )
    return row_findings(early, "rebuilt_on", kind="asked", message=message)


def _other_hours(rows: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    """Questions about hours on the oil that are not those of the drain of the same day."""
    oil = rows.filter(pl.col("quantity").is_in(OIL_QUANTITIES))
    drained = (
        drains.filter(is_oil_change())
        .filter(pl.col("oil_hours").is_not_null() & ~pl.col("hours_in_question"))
        .group_by("unit_key", pl.col("drained_on").alias("measured_on"))
        .agg(pl.col("oil_hours").max().alias("_drained"))
    )
    both = oil.join(drained, on=["unit_key", "measured_on"], how="inner", maintain_order="left")
    apart = (pl.col("component_hours") - pl.col("_drained")).abs()
    message = pl.format(
        "is not the {} h of the drain of that day, which are used: for what is in the oil, write hours on that oil",
        pl.col("_drained").round(2),
    )
    other = both.filter((apart > 1) & (apart > 0.1 * pl.col("_drained")))
    return row_findings(other, "component_hours", kind="asked", message=message)


def _doubtful_samples(samples: pl.DataFrame) -> pl.DataFrame:
    """Questions about samples of the oil that may be of another drain."""
    doubtful = samples.filter("in_doubt")
    message = pl.format(
        "{}: write the hours on the oil; until then it lengthens nothing",
        pl.when(pl.col("other_day").is_not_null())
        .then(pl.format("may be of the drain of {} or of {}", "of_day", "other_day"))
        .otherwise(pl.format("is dated before the drain of {}, which it may be of", "of_day")),
    )
    hours = pl.col("of_hours").round(2).cast(pl.String)
    about = doubtful.with_columns(hours.alias("_hours"))
    return row_findings(about, "measured_on", kind="asked", message=message, proposal=pl.col("_hours"))


def _samples_of_no_drain(samples: pl.DataFrame, known: pl.Series) -> pl.DataFrame:
    """Questions about samples of the oil of no drain that have no hours; known : units of log and register."""
    about_a_unit = pl.col("unit_key").cast(pl.String).is_in(known.unique().implode())
    alone = samples.filter(pl.col("of_day").is_null() & pl.col("clock_h").is_null() & about_a_unit)
    message = (
        "is of no drain of this unit in the log, so it has no hours: write component_hours, or correct the date or "
        "the unit"
    )
    return row_findings(alone, "measured_on", kind="asked", message=message)


def _backwards(parts: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    """Hours on a part that are less than at an earlier reading, with nothing new in between."""
    timed = parts.drop_nulls("component_hours").with_columns(pl.col("measured_on").alias("_day"))
    resets = reset_days(timed, drains, with_new_parts=True)
    since = timed.sort("_day").join_asof(
        resets.sort("reset_on"), left_on="_day", right_on="reset_on", by="unit_key", check_sortedness=False
    )
    between = since.filter(pl.col("reset_on").is_null() | (pl.col("reset_on") != pl.col("_day")))
    ordered = between.sort("unit_key", "quantity", "measured_on", "component_hours", "_row")
    same_part = ["unit_key", "quantity", "reset_on"]
    falls = ordered.filter((pl.col("component_hours").diff().over(same_part) < 0).any().over(same_part))
    pieces = []
    for _, run in falls.group_by(same_part, maintain_order=True):
        hours = run["component_hours"].to_list()
        kept = longest_rising(hours)
        other = [_contradicted(position, kept, hours=hours) for position in range(len(hours))]
        wrong = run.with_columns(
            pl.Series("_other", [str(run["measured_on"][position]) for position in other]),
            pl.Series("_other_h", [f"{hours[position]:g}" for position in other]),
        ).filter(pl.Series([position not in kept for position in range(len(hours))]))
        message = pl.format(
            "runs backwards against the {} h of {}: mend it, or log the rebuild or the new parts",
            "_other_h",
            "_other",
        )
        pieces.append(row_findings(wrong, "component_hours", kind="held back", message=message))
    return joined_findings(pieces)


def longest_rising(values: Sequence[float]) -> set[int]:
    """Positions of the longest subsequence that never falls, so that the fewest are left out; on a tie the earliest.

    Its time grows with the square of the length, which is small: only parts whose clock runs backwards are examined.
    """
    longest = [1] * len(values)
    for position in reversed(range(len(values))):
        after = (longest[other] for other in range(position + 1, len(values)) if values[other] >= values[position])
        longest[position] = 1 + max(after, default=0)
    kept: set[int] = set()
    wanted, last = max(longest, default=0), float("-inf")
    for position, value in enumerate(values):
        if longest[position] == wanted and value >= last:
            kept.add(position)
            wanted, last = wanted - 1, value
    return kept


def _contradicted(position: int, kept: set[int], *, hours: Sequence[float]) -> int:
    """The nearest kept reading that contradicts this one."""
    for other in sorted(kept, key=lambda index: abs(index - position)):
        if (other < position) == (hours[other] > hours[position]) and other != position:
            return other
    return position
