"""What a whole column of hours may be instead: readings of a meter, minutes, or parts of a day."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.validating.day_fractions import part_of_a_day
from draincurve.pipeline.reading.validating.running_hours import running_z
from draincurve.pipeline.reading.validating.unit_order import unit_and_day
from draincurve.schemas.columns import column_of

NEARLY_EVERY = 0.9
"""Share of drains at which hours rise, from which they may be a meter's."""
RISING_Z = 2.2
"""Standard deviations by which the rises must outnumber those of fills in random order: of small logs, in which every
drain rises, one in 24 by chance; of larger ones hardly any."""
RESETS_RISING_Z = 3.72
"""The same where hours also fall: by chance one log in 10 000."""
RUNNING_Z = 3.4
"""The same for the steps that rise or start again, of all units: by chance one log in 3 000."""
IN_TURN, DOUBLED = 0.85, 1.5
"""Share of drains at which hours turn from rising to falling or back, and the median factor by which they rise, from
which every second may run on from the one before; RUNNING_Z holds for the turns, too."""
NEARLY_EVERY_OR_RESET = 0.85
"""Share of drains at which hours rise or start again, from which they may be those of a meter that was reset."""
RESET_UNDER = 0.5
"""A reading under this share of the one before is a reset; most ordinary fills are nearer to each other."""
UNIT_RISING_Z = 2.0
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
    rises, steps, z = ascents_z(ascents)
    resets = int(ascents["resets"].sum())
    symptom = None
    if steps and z >= RISING_Z and rises >= NEARLY_EVERY * steps:
        symptom = f"hours rise at nearly every drain ({rises} of {steps} times)"
    elif steps and rises + resets >= NEARLY_EVERY_OR_RESET * steps and _run_on(ascents, z):
        symptom = f"hours rise from drain to drain ({rises} of {steps} times) or start again ({resets} times)"
    elif _turns_z(ascents) >= RUNNING_Z:
        symptom = "hours rise and fall in turn, as if every second ran on from the one before"
    if symptom is not None:
        return ColumnQuestion(
            f"{symptom}: are they meter readings? {until}",
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
    part = part_of_a_day(rows["_hours"])
    if part is not None:
        text = f"hours such as {part:g} are whole minutes only as parts of a day: are they? Then type them as"
        return ColumnQuestion(f"{text} {24 * part:.1f}. {until}", header, meant)
    return None


def _run_on(ascents: pl.DataFrame, z: float) -> bool:
    """Whether hours that rise or start again at nearly every drain hardly do so by chance."""
    return z >= RESETS_RISING_Z or running_z(ascents["hours"].to_list(), reset_under=RESET_UNDER) >= RUNNING_Z


def _turns_z(ascents: pl.DataFrame) -> float:
    """How surely hours rise and fall in turn, by half as much or more; 0 where they mostly do not.

    Of n values in random order (n - 2) / 3 * 2 turn in the mean, with a variance of (16 n - 29) / 90 (Kendall 1976,
    Time-Series, section 2.3).
    """
    inner = pl.col("steps") - 1
    units = ascents.filter(inner > 0)
    turns, places, variance = units.select("turns", inner, (16 * pl.col("steps") - 13) / 90).sum().row(0)
    rise = units["rise"].median()
    if not places or turns < IN_TURN * places or not isinstance(rise, float) or rise < DOUBLED:
        return 0.0
    return float((turns - 2 * places / 3) / variance**0.5)


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


def ascents_z(ascents: pl.DataFrame) -> tuple[int, int, float]:
    """How often hours rise from one drain of a unit to the next, of how many times, and how surely.

    The last is in standard deviations of the number of ascents of a random order: n values have (n - 1) / 2 in the
    mean with a variance of (n + 1) / 12 (Knuth 1998, The Art of Computer Programming 3, section 5.1.3).
    """
    if not ascents.height:
        return 0, 0, 0.0
    rises, steps, expected, variance = ascents.select("rises", "steps", "expected", "variance").sum().row(0)
    return rises, steps, float((rises - expected) / variance**0.5)


def rising_units(ascents: pl.DataFrame) -> list[str]:
    """Units whose hours rise or start again at nearly every drain, mostly over the fleet's usual: their unit_key."""
    units = ascents.filter(
        (pl.col("rises") + pl.col("resets") >= NEARLY_EVERY * pl.col("steps"))
        & (pl.col("rises") - pl.col("expected") >= UNIT_RISING_Z * pl.col("variance").sqrt())
        & (pl.col("usual") > RISING_OVER * pl.col("fleet"))
    )
    return units["unit_key"].to_list()


def ascents_by_unit(rows: pl.DataFrame) -> pl.DataFrame:
    """Of each unit with two fills or more: rises, resets, steps, expected rises, variance; usual, fleet, hours [h].

    Beside them turns, how often hours turn from rising to falling or back, and the median `rise`, after / before.
    rows : in the order of the file, with unit_key, drained_on, _hours [h] and the fleet's usual as _fleet [h]
    """
    rows = _dated_by_neighbours(rows)
    order = unit_and_day(rows, "drained_on")
    ordered = rows.select("unit_key", "_hours", "_fleet", order.alias("_order")).sort("_order", maintain_order=True)
    before = pl.when(pl.col("unit_key") == pl.col("unit_key").shift(1)).then(pl.col("_hours").shift(1))
    return (
        ordered.with_columns(before.alias("_before"), (pl.col("_hours") - before).sign().alias("_step"))
        .group_by("unit_key", maintain_order=True)
        .agg(
            (pl.col("_hours") > pl.col("_before")).sum().cast(pl.Int64).alias("rises"),
            (pl.col("_hours") < RESET_UNDER * pl.col("_before")).sum().cast(pl.Int64).alias("resets"),
            (pl.len() - 1).cast(pl.Int64).alias("steps"),
            ((pl.len() - 1) / 2).alias("expected"),
            ((pl.len() + 1) / 12).alias("variance"),
            pl.col("_hours").median().alias("usual"),
            pl.col("_fleet").first().alias("fleet"),
            pl.col("_hours").alias("hours"),
            (pl.col("_step") * pl.col("_step").shift(1) < 0).sum().cast(pl.Int64).alias("turns"),
            (pl.col("_hours") / pl.col("_before")).filter(pl.col("_step") > 0).median().alias("rise"),
        )
        .filter(pl.col("steps") > 0)
    )


def _dated_by_neighbours(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows without a date get that of the row of their unit before or after them in the file.

    Where a unit's other rows are not in order of date in the file, they are left out.
    """
    undated = rows.filter(pl.col("drained_on").is_null())["unit_key"].unique()
    if undated.is_empty():
        return rows
    of_them = pl.col("unit_key").is_in(undated.implode())
    return pl.concat([rows.filter(~of_them), _with_days(rows.filter(of_them), any_day=rows["drained_on"].min())])


def _with_days(rows: pl.DataFrame, *, any_day: object) -> pl.DataFrame:
    day = pl.col("drained_on")
    in_order = (day.forward_fill().diff() >= 0).fill_null(True).all()
    filled = pl.when(in_order.over("unit_key")).then(day.forward_fill().backward_fill().over("unit_key"))
    # A unit without any date is in the order of the file: its rows get one day.
    return rows.with_columns(
        pl.coalesce(day, filled, pl.when(day.count().over("unit_key") == 0).then(pl.lit(any_day, pl.Date)))
    ).drop_nulls("drained_on")
