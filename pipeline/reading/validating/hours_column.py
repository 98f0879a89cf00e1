"""What a whole column of hours may be instead: readings of a meter, minutes, or parts of a day."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.validating.unit_order import unit_and_day
from draincurve.schemas.columns import column_of

NEARLY_EVERY = 0.9
"""Share of drains at which hours rise, from which they may be a meter's."""
SURELY_RISING = 2.2
"""Standard deviations by which the rises must outnumber those of fills in random order: of small logs, in which every
drain rises, one in 24 by chance; of larger ones hardly any."""
UNIT_SURELY_RISING = 2.0
"""The same for one unit: four fills in order."""
RISING_OVER = 1.5
"""Multiple of the fleet's usual over which most fills of such a unit are, or its fills merely grow."""
SHORTEST_USUAL = 1.0
"""Most fills under this [h] may be parts of a day, in which a spreadsheet keeps a time."""
FEWEST_FILLS = 5
"""Of fewer fills each is asked about by itself."""
_MOSTLY = 0.5


class ColumnQuestion(NamedTuple):
    """What is asked about a column, the value that shows it, and the settings that answer."""

    message: str
    value: str
    setting: str


def column_question(rows: pl.DataFrame, ascents: pl.DataFrame, *, header: str) -> ColumnQuestion | None:
    """The question about all typed hours of a log, if there is one.

    rows : typed fills, with _hours [h]; ascents : their `ascents_by_unit`; header : as typed in the file
    """
    meant = f'[headers]\noil_hours = ["{header}"]'
    until = "Until the settings say, no hours are known"
    rises, steps, surely = rising(ascents)
    if steps and surely >= SURELY_RISING and rises >= NEARLY_EVERY * steps:
        return ColumnQuestion(
            f"hours rise at nearly every drain ({rises} of {steps} times): are they meter readings? {until}",
            header,
            f'[headers]\nmeter_hours = ["{header}"]  # or oil_hours, if they are hours on the oil',
        )
    high = column_of("drains", "oil_hours").asked_high or 0.0
    if rows.height < FEWEST_FILLS:
        return None
    over, under = (rows["_hours"] > high).sum(), (rows["_hours"] < SHORTEST_USUAL).sum()
    if over > _MOSTLY * rows.height:
        text = f"hours over {high:g} h at most drains ({over} of {rows.height}): are they minutes? Then write"
        return ColumnQuestion(f"{text} '{header} min' above them. {until}", header, meant)
    if under > _MOSTLY * rows.height:
        text = f"hours under {SHORTEST_USUAL:g} h at most drains ({under} of {rows.height}): are they parts of a day?"
        return ColumnQuestion(f"{text} Then type them as 12:30 or 12.5. {until}", header, meant)
    return None


def off_meter_question(rows: pl.DataFrame, header: str) -> ColumnQuestion | None:
    """The question about a meter that most typed hours differ from, if there is one.

    rows : typed fills, with meter_hours, and off_meter_h [h] where both differ; header : of the meter's column
    """
    both = rows.filter(pl.col("meter_hours").is_not_null())
    off = both["off_meter_h"].count()
    if both.height < FEWEST_FILLS or off <= _MOSTLY * both.height:
        return None
    message = (
        f"hours differ from the meter at most drains ({off} of {both.height}): does it count other hours? "
        "The settings can make its column a note; until then its hours are unknown"
    )
    return ColumnQuestion(message, header, f'[headers]\nnote = ["{header}"]')


def rising(ascents: pl.DataFrame) -> tuple[int, int, float]:
    """How often hours rise from one drain of a unit to the next, of how many times, and how surely.

    The last is in standard deviations of the number of ascents of a random order: n values have (n - 1) / 2 in the
    mean with a variance of (n + 1) / 12 (Knuth 1998, The Art of Computer Programming 3, section 5.1.3).
    """
    if not ascents.height:
        return 0, 0, 0.0
    rises, steps, expected, variance = ascents.select("rises", "steps", "expected", "variance").sum().row(0)
    return rises, steps, float((rises - expected) / variance**0.5)


def rising_units(ascents: pl.DataFrame) -> list[str]:
    """Units whose hours rise at nearly every drain and are mostly over the fleet's usual: their unit_key."""
    units = ascents.filter(
        (pl.col("rises") >= NEARLY_EVERY * pl.col("steps"))
        & (pl.col("rises") - pl.col("expected") >= UNIT_SURELY_RISING * pl.col("variance").sqrt())
        & (pl.col("usual") > RISING_OVER * pl.col("fleet"))
    )
    return units["unit_key"].to_list()


def ascents_by_unit(rows: pl.DataFrame) -> pl.DataFrame:
    """For each unit with two fills or more: rises, steps, their expected number and variance, usual and fleet [h].

    rows : in the order of the file, with unit_key, drained_on, _hours [h] and the fleet's usual as _fleet [h]
    """
    order = unit_and_day(rows, "drained_on")
    ordered = rows.select("unit_key", "_hours", "_fleet", order.alias("_order")).sort("_order", maintain_order=True)
    step = pl.when(pl.col("unit_key") == pl.col("unit_key").shift(1)).then(pl.col("_hours").diff())
    return (
        ordered.with_columns(step.alias("_step"))
        .group_by("unit_key", maintain_order=True)
        .agg(
            (pl.col("_step") > 0).sum().cast(pl.Int64).alias("rises"),
            (pl.len() - 1).cast(pl.Int64).alias("steps"),
            ((pl.len() - 1) / 2).alias("expected"),
            ((pl.len() + 1) / 12).alias("variance"),
            pl.col("_hours").median().alias("usual"),
            pl.col("_fleet").first().alias("fleet"),
        )
        .filter(pl.col("steps") > 0)
    )
