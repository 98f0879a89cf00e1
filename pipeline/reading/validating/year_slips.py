"""Dates with a wrong year: rows that only fit among the rows around them in the file in another year."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable

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
BY_UNIT = 0.5
"""Share of rows below one of the same unit, from which a file is in order of units, and of dates within each."""


def with_year_slips(drains: WorkingTable) -> WorkingTable:
    """Holds back drains whose date is years early or late; their day is unknown, as that of a row without a date."""
    rows = drains.parsed_where(
        pl.col("drained_on").is_not_null() & ~drains.is_held_back,
        *("_row", "drained_on", pl.col("unit_id").cast(pl.String), pl.col("_source").fill_null("")),
        pl.col("confirmed").fill_null(False),
    )
    steps = rows.select(pl.col("drained_on").diff().dt.total_days().abs()).to_series()
    if rows.height > MOST_ROWS or not (steps > FAR.days).any():
        return drains
    found = []
    for _, of_file in rows.group_by("_source", maintain_order=True):
        below = (of_file["unit_id"] == of_file["unit_id"].shift()).sum()
        by_unit = below >= BY_UNIT * of_file.height
        parts = of_file.partition_by("unit_id", maintain_order=True) if by_unit else [of_file]
        found += [slip for part in parts for slip in _slips(part)]
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


def _slips(rows: pl.DataFrame) -> list[tuple[int, str, str]]:
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


def _how_far(day: date, right: date) -> str:
    years = abs(day.year - right.year)
    return f"{'a year' if years == 1 else f'{years} years'} {'late' if day > right else 'early'}"
