"""Titles that part the rows of equal units may be sites."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.settings import Settings

NAMES = ("Fork", "Date", "Hours", "Oil", "Colour", "Debris", "Spring", "Rider")
QUESTION = "are they sites?"


def asked(
    *parts: tuple[str, date], units: tuple[str, ...] = ("F01", "F02"), headers: tuple[str, ...] = NAMES
) -> list[str]:
    """The question about a log of parts, each with a title and the day of its first drain; units : of each part."""
    lines: list[list[str | None]] = []
    for at, (title, first) in enumerate(parts):
        lines.append([title, *[None] * (len(headers) - 1)])
        for drain in range(6):
            unit = units[drain % 2 if len(units) == 2 else 2 * at + drain % 2]
            day = first + timedelta(days=9 * drain + at)
            cells = [unit, str(day), str(10 + drain + at), "Fork 5", "2", "2", "Plain", "Anna", "x"]
            lines.append([*cells[: len(headers)]])
    frame = pl.DataFrame(lines, schema=dict.fromkeys(headers, pl.String), orient="row")
    frame = frame.with_columns(pl.int_range(2, frame.height + 2, dtype=pl.Int64).alias("_line"))
    log = check_log({"drains": SourceTable("drains", "log.csv", "", frame)}, Settings(), as_of=date(2026, 6, 20))
    return log.asked.filter(log.asked["message"].str.contains(QUESTION, literal=True))["value"].to_list()


DAY = date(2026, 1, 5)


def test_sites_above_the_same_units_on_the_same_days() -> None:
    assert asked(("North", DAY), ("South", DAY)) == ["North"]
    assert asked(("Yard A", DAY), ("Yard B", DAY), ("Yard C", DAY)) == ["Yard A"]


@pytest.mark.parametrize("titles", [("January", "March"), ("Race one", "Race two"), ("Season 2025", "Season 2026")])
def test_parts_that_follow_each_other_are_no_sites(titles: tuple[str, str]) -> None:
    assert asked((titles[0], DAY), (titles[1], DAY + timedelta(days=56))) == []


def test_parts_of_other_units_and_a_column_of_sites_ask_nothing() -> None:
    assert asked(("North", DAY), ("South", DAY), units=("F01", "F02", "F03", "F04")) == []
    assert asked(("North", DAY), ("South", DAY), headers=(*NAMES, "Site")) == []
    assert asked(("North", DAY)) == []
