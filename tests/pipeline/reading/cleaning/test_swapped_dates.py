"""Dates whose day and month a spreadsheet may have swapped are not read."""

from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.date_cells import read_dates

TODAY = date(2026, 11, 25)


def read(*texts: str) -> list[date | None]:
    return read_dates(pl.Series(texts, dtype=pl.String), None, as_of=TODAY).frame["date"].to_list()


@pytest.mark.parametrize("others", [["17/01/2026", "29/01/2026"], ["01/17/2026", "01/29/2026"], ["17.01.2026"] * 2])
def test_dates_that_a_spreadsheet_may_have_swapped_are_not_read(others: list[str]) -> None:
    """It reads 05/01 as a date of its own order, and leaves 17/01 a text."""
    texts = [*others, "2026-05-01", "2026-10-02", "2026-06-03", "2026-03-03"]
    frame = read_dates(pl.Series(texts), None, as_of=TODAY).frame
    assert frame["date"].to_list()[2:] == [None, None, None, date(2026, 3, 3)]
    assert frame["reason"][2].startswith("may be 2026-05-01 or 2026-01-05: a spreadsheet")
    assert frame["date"].null_count() == 3


@pytest.mark.parametrize("texts", [["01/22/2026", "01/27/2026"], ["22/01/2026", "27-01-2026"]])
def test_a_few_dates_with_later_days_do_not_hide_that_the_others_may_be_swapped(texts: list[str]) -> None:
    full = [f"2026-{month:02d}-0{day}" for month in (8, 9, 10, 11) for day in (1, 2, 3)]
    found = read(*texts, *full, "2026-01-14", "2026-02-02")
    assert None not in found[:2]
    assert found[2:] == [None] * 12 + [date(2026, 1, 14), date(2026, 2, 2)]
    many = [f"2026-03-{day}" for day in range(13, 28)]
    assert None not in read(*texts, *full, *many)


@pytest.mark.parametrize("more", ["2026-05-13", "05/01/2026"])
def test_a_day_of_the_other_kind_speaks_against_swapped_dates(more: str) -> None:
    texts = ["17/01/2026", "29/01/2026", "2026-05-01", "2026-10-02", "2026-06-03", more]
    assert None not in read(*texts)


def test_two_dates_with_days_up_to_12_may_be_chance() -> None:
    assert None not in read("17/01/2026", "2026-05-01", "2026-10-02")
