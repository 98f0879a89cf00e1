"""Day numbers of a workbook that counts from 1904 are told by the other dates of the column, or by today."""

from datetime import date, timedelta

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.date_cells import read_dates

TODAY = date(2026, 6, 20)
DAYS = [date(2025, 9, 1) + timedelta(days=9 * at) for at in range(30)]


def number(day: date, start: date = date(1904, 1, 1)) -> str:
    return str((day - start).days)


def found(texts: list[str]) -> pl.DataFrame:
    return read_dates(pl.Series(texts), None, as_of=TODAY).frame


@pytest.mark.parametrize("form", ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y"])
@pytest.mark.parametrize("clock", ["", ".4375"])
def test_a_number_among_dates_that_fits_only_from_1904_is_held_back(form: str, clock: str) -> None:
    texts = [day.strftime(form) for day in DAYS]
    read = found([*texts[:12], number(DAYS[12]) + clock, *texts[13:]])
    assert read["date"].null_count() == 1
    assert "2021-12-17 or, counted from 1904, 2025-12-18" in read["reason"][12]
    right = found([*texts[:12], number(DAYS[12], date(1899, 12, 30)), *texts[13:]])
    assert right["date"].to_list() == DAYS


def test_an_old_number_in_a_log_of_many_years_stands() -> None:
    days = [date(2020, 1, 4) + timedelta(days=31 * at) for at in range(70)]
    texts = [str(day) for day in days[:-1]]
    assert found([*texts, number(days[20], date(1899, 12, 30))])["date"].null_count() == 0


@pytest.mark.parametrize(("start", "asked"), [(date(1904, 1, 1), True), (date(1899, 12, 30), False)])
def test_a_log_of_numbers_only_is_asked_about_if_it_would_end_four_years_ago(check, start: date, asked: bool) -> None:
    log = check(*[{"drained_on": number(day, start)} for day in DAYS])
    about = log.asked.filter(column="drained_on").filter(pl.col("message").str.contains("counted from 1904"))
    assert (about.height == 1) == asked
    assert not asked or f"it is {DAYS[-1]}" in about["message"][0]


def test_numbers_of_a_log_that_ended_long_ago_stand(check) -> None:
    log = check(*[{"drained_on": number(day - timedelta(days=3000), date(1899, 12, 30))} for day in DAYS])
    assert not log.asked["message"].str.contains("1904").any()
