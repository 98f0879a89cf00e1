"""Dates with a wrong year or month: rows that only fit among those around them in the file in another one."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.validating.swapped_days import swapped_days

FAR = timedelta(days=200)
"""From one row to the next, as far as only a wrong year leads in a log that goes on."""
GIVE = timedelta(days=15)
"""How far rows that somebody adds late are out of order."""
IN_ORDER = 0.9
"""Share of steps from row to row in one direction, from which a file is in order of date."""
FEWEST_ROWS, MOST_ROWS = 8, 100_000
"""Rows of a file that may show its order; rows of a log that people have typed."""
MOST_SLIPS = 0.1
"""Share of the rows that are slips at most."""
MOST_MONTHS, MOST_BESIDE = 3, 3
"""How many months off a month may be, and in how many rows below each other somebody writes it, at most."""
LATE_ROWS = timedelta(days=14)
"""From the row above to the row below one that is early, at most: between rows further apart, a row that is merely
entered late fits with another month as well."""
BY_UNIT = 0.5
"""Share of rows below one of the same unit, from which a file is in order of units, and of dates within each."""


def with_date_slips(drains: WorkingTable) -> WorkingTable:
    """Holds back drains whose date is years or months early or late; their day is unknown, as without a date."""
    rows = drains.parsed_where(
        pl.col("drained_on").is_not_null() & ~drains.is_held_back,
        *("_row", "drained_on", pl.col("unit_id").cast(pl.String), pl.col("_source").fill_null("")),
        pl.col("confirmed").fill_null(False),
    )
    if rows.height > MOST_ROWS:
        return drains
    found = []
    for _, of_file in rows.group_by("_source", maintain_order=True):
        below = (of_file["unit_id"] == of_file["unit_id"].shift()).sum()
        by_unit = below >= BY_UNIT * of_file.height
        parts = of_file.partition_by("unit_id", maintain_order=True) if by_unit else [of_file]
        found += [slip for part in parts for slip in _year_slips(part) or _month_slips(part)] or _swapped(parts)
    slips = pl.DataFrame(
        found, schema={"_row": rows.schema["_row"], "_what": pl.String, "_day": pl.String}, orient="row"
    )
    slips = slips.join(rows.filter(~pl.col("confirmed")).select("_row"), on="_row", how="semi")
    message = pl.format(
        "is {} by the rows around it in the file: is it {}? Correct the date, or keep it: yes in a column "
        "headed confirmed",
        "_what",
        "_day",
    )
    finding = drains.about_rows(slips, "drained_on", kind="held back", message=message, proposal=pl.col("_day"))
    known = ~pl.col("_row").is_in(slips["_row"].implode())
    return drains.with_parsed(
        drains.parsed.with_columns(pl.when(known).then("drained_on").alias("drained_on"))
    ).with_findings(finding)


def _year_slips(rows: pl.DataFrame) -> list[tuple[int, str, str]]:
    """Of rows in order of date, each slip: its row, how many years it is early or late, and the likely day."""
    days = rows["drained_on"].to_list()
    steps = list(pairwise(days))
    in_order = max(sum(a <= b for a, b in steps), sum(a >= b for a, b in steps))
    if len(days) < FEWEST_ROWS or in_order < IN_ORDER * len(steps):
        return []
    slips = []
    for start, end in _far_away(days):
        first, last = sorted((days[start - 1], days[end]))
        likely = [_in_another_year(day, first - GIVE, last=last + GIVE) for day in days[start:end]]
        found = list(zip(rows["_row"][start:end], days[start:end], likely, strict=True))
        slips += [
            (row, _how_far(day, right), str(right)) for row, day, right in found if right and None not in likely
        ]
    return slips if len(slips) <= MOST_SLIPS * len(days) else []


def _swapped(parts: Sequence[pl.DataFrame]) -> list[tuple[int, str, str]]:
    """The same of rows whose day and month are swapped, in a file in order of date, or of units and dates."""
    swaps = swapped_days([part["drained_on"].to_list() for part in parts])
    return [
        (part["_row"][at], "swapped (day for month)", str(day))
        for part, of_part in zip(parts, swaps, strict=True)
        for at, day in of_part.items()
    ]


def _far_away(days: Sequence[date]) -> Iterator[tuple[int, int]]:
    """Start and end of each run of days that leads far away from the day before it, and back."""
    start = None
    for at in range(1, len(days)):
        if start is None and abs(days[at] - days[at - 1]) > FAR:
            start = at
        elif start is not None and abs(days[at] - days[start - 1]) <= FAR:
            yield start, at
            start = None


def _in_another_year(day: date, first: date, *, last: date) -> date | None:
    """The same day of another year that is from first to last; None where there is none, as of 29 February."""
    for year in range(first.year, last.year + 1):
        try:
            moved = day.replace(year=year)
        except ValueError:
            continue
        if moved != day and first <= moved <= last:
            return moved
    return None


def _month_slips(rows: pl.DataFrame) -> list[tuple[int, str, str]]:
    """The same of rows in order of date of which a few are months early or late."""
    numbers, days = rows["_row"].to_list(), rows["drained_on"].to_list()
    newest_first = sum(a > b for a, b in pairwise(days)) > sum(a < b for a, b in pairwise(days))
    if newest_first:
        numbers, days = numbers[::-1], days[::-1]
    breaks = [at for at in range(1, len(days)) if days[at] < days[at - 1]]
    if len(days) < FEWEST_ROWS or len(breaks) > (1 - IN_ORDER) * len(days):
        return []
    slips, explained = [], 0
    for at in breaks:
        run = _late_rows(days, at) or (_early_rows(days, at) if len(breaks) * MOST_BESIDE < len(days) / 4 else None)
        moved = _in_other_months(days, run) if run is not None else []
        explained += bool(moved)
        slips += [(numbers[at], _how_far(days[at], day), str(day)) for at, day in moved]
    return slips if len(slips) <= MOST_SLIPS * len(days) and explained == len(breaks) else []


def _late_rows(days: Sequence[date], at: int) -> range | None:
    """The rows above a row that are later than it, if these are few."""
    start = at - 1
    while start > 0 and at - start < MOST_BESIDE and days[start - 1] > days[at]:
        start -= 1
    return range(start, at) if start > 0 and days[start - 1] <= days[at] else None


def _early_rows(days: Sequence[date], at: int) -> range | None:
    """The row at a position and those below it that are earlier than the row above, if these are few."""
    end = at + 1
    while end < len(days) and end - at < MOST_BESIDE and days[end] < days[at - 1]:
        end += 1
    near = end < len(days) and days[at - 1] <= days[end] <= days[at - 1] + LATE_ROWS
    return range(at, end) if near else None


def _in_other_months(days: Sequence[date], run: range) -> list[tuple[int, date]]:
    """Each position of a run with its day in another month, if all fit between the days around the run, in order."""
    before, after = days[run.start - 1], days[run.stop]
    likely = [_in_another_month(days[at], before, last=after) for at in run]
    moved = [day for day in likely if day is not None]
    in_order = len(moved) == len(likely) and all(a <= b for a, b in pairwise(moved))
    return list(zip(run, moved, strict=True)) if in_order else []


def _in_another_month(day: date, first: date, *, last: date) -> date | None:
    """The same day of a month near it that is from first to last; None where there is none, or several are."""
    months = (12 * day.year + day.month - 1 + apart for apart in range(-MOST_MONTHS, MOST_MONTHS + 1) if apart)
    fitting = []
    for year, month in (divmod(number, 12) for number in months):
        if day.day <= monthrange(year, month + 1)[1] and first <= day.replace(year=year, month=month + 1) <= last:
            fitting.append(day.replace(year=year, month=month + 1))
    return fitting[0] if len(fitting) == 1 else None


def _how_far(day: date, right: date) -> str:
    months = abs(12 * (day.year - right.year) + day.month - right.month)
    count, one, several = (months // 12, "a year", "years") if months % 12 == 0 else (months, "a month", "months")
    return f"{one if count == 1 else f'{count} {several}'} {'late' if day > right else 'early'}"
