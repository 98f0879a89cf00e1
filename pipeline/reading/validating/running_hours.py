"""Hours that run on from drain to drain, as a meter's or since a rebuild: how surely they do.

Where fills are in random order, some hours fall a little. Where they run on, each rises or starts again, and the
steps from one to the next are more alike than the hours.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt
import polars as pl

from draincurve.pipeline.reading.validating.unit_order import unit_and_day

NEARLY_EVERY = 0.9
"""Share of drains at which hours rise, from which they may be a meter's."""
RISING_Z = 2.2
"""Standard deviations by which the rises must outnumber those of fills in random order: of small logs, in which every
drain rises, one in 24 by chance; of larger ones hardly any."""
RESETS_RISING_Z = 3.72
"""The same where hours also fall: by chance one log in 10 000."""
RUNNING_Z = 3.4
"""The same for the steps that rise or start again, of all units: by chance one log in 3 000."""
EVEN_Z, EVEN_RUNNING_Z, EVEN_TURNS_Z = 3.6, 2.0, 2.4
"""The same where steps are more alike than hours, so that fewer drains show it: EVEN_WEIGHT times `_evenness` is
taken off, or it must be under EVEN_TURNS where every second runs on. By chance one log in 10 000, of fills of 5 to
25 h."""
EVEN_WEIGHT, EVEN_TURNS = 6.0, -0.2
LEAST_STEP = 0.25
"""A shorter step counts as one of this [h]."""
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
MOST_DRAINS = 300
"""Drains of a unit that are compared with each other."""


def running_symptom(ascents: pl.DataFrame) -> str | None:
    """How the hours of a log run on from drain to drain, in words; None where they hardly do.

    ascents : as `ascents_by_unit` gives them
    """
    rises, steps, z = ascents_z(ascents)
    resets = int(ascents["resets"].sum())
    if steps and z >= RISING_Z and rises >= NEARLY_EVERY * steps:
        return f"hours rise at nearly every drain ({rises} of {steps} times)"
    if steps and rises + resets >= NEARLY_EVERY_OR_RESET * steps and _run_on(ascents, z):
        return f"hours rise from drain to drain ({rises} of {steps} times) or start again ({resets} times)"
    turns = _turns_z(ascents)
    if turns >= RUNNING_Z or (turns >= EVEN_TURNS_Z and _evenness(ascents) <= EVEN_TURNS):
        return "hours rise and fall in turn, as if every second ran on from the one before"
    return None


def _run_on(ascents: pl.DataFrame, z: float) -> bool:
    """Whether hours that rise or start again at nearly every drain hardly do so by chance."""
    running = running_z(ascents["hours"].to_list(), reset_under=RESET_UNDER)
    if z >= RESETS_RISING_Z or running >= RUNNING_Z:
        return True
    return running >= EVEN_RUNNING_Z and running - EVEN_WEIGHT * _evenness(ascents) >= EVEN_Z


def _evenness(ascents: pl.DataFrame) -> float:
    """Logarithm of the spread of the steps over that of the hours, each a standard deviation of logarithms.

    A step leads from one drain to the next where hours rise, else from 0. Of hours that run on, steps are more alike.
    """
    units = [np.asarray(hours, dtype=np.float64) for hours in ascents["hours"].to_list()]
    steps = [np.where(np.diff(hours, prepend=np.inf) > 0, np.diff(hours, prepend=0.0), hours) for hours in units]
    of_steps, of_hours = (
        float(np.std(np.log(np.maximum(np.concatenate(each), LEAST_STEP)))) for each in (steps, units)
    )
    return float(np.log(max(of_steps, 1e-3) / max(of_hours, 1e-3)))


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


def running_z(hours_of_units: Iterable[npt.ArrayLike], *, reset_under: float) -> float:
    """How surely hours run on, in standard deviations of the steps that rise or start again in a random order.

    hours_of_units : of each unit, its hours [h] in order. reset_under : share of the hours before, under which the
    next start again. The steps of all units are added up. 0 where their order can make no difference.

    >>> round(running_z([[12, 24, 36, 12, 24, 36]] * 4, reset_under=0.5), 1)
    4.3
    """
    moments = [_moments(np.asarray(hours, dtype=np.float64)[:MOST_DRAINS], reset_under) for hours in hours_of_units]
    steps, mean, variance = np.sum([*moments, (0.0, 0.0, 0.0)], axis=0)
    return float((steps - mean) / variance**0.5) if variance > 1e-9 else 0.0


def _moments(hours: npt.NDArray[np.float64], reset_under: float) -> tuple[float, float, float]:
    """Steps of one unit that rise or start again; their mean and variance over all orders of its hours.

    The variance adds up what two steps have in common: all, one drain, or none.
    """
    n = hours.size
    if n < 3:
        return 0.0, 0.0, 0.0
    onward = (hours > hours[:, None]) | (hours < reset_under * hours[:, None])
    np.fill_diagonal(onward, val=False)
    out, into = onward.sum(axis=1), onward.sum(axis=0)
    total, both_ways, chained = float(out.sum()), float((onward & onward.T).sum()), float(out @ into)
    adjacent = 2.0 * (chained - both_ways) / (n * (n - 1))
    apart = total**2 - float(out @ out + into @ into) - 2.0 * chained + total + both_ways
    mean = total / n
    variance = mean + adjacent + apart / (n * (n - 1)) - mean**2
    return float(np.diagonal(onward, offset=1).sum()), mean, variance
