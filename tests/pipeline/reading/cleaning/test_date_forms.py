"""Dates by the week and of East Asia, and texts that name no day."""

from __future__ import annotations

from datetime import date

import pytest

from draincurve.pipeline.reading.cleaning.date_forms import day_of_another_form, period_of
from draincurve.pipeline.reading.cleaning.date_texts import possible_dates

AS_OF = date(2026, 6, 20)
DAYS = {
    "2026-W03-2": "2026-01-13",
    "2026w032": "2026-01-13",
    "2026年1月5日": "2026-01-05",
    "2026 年 01 月 20 日（火）": "2026-01-20",
    "令和8年4月2日": "2026-04-02",
    "令和元年5月1日": "2019-05-01",
    "12 mrt 2026": "2026-03-12",
    "21 maja 2026": "2026-05-21",
    "21 de fevereiro de 2026": "2026-02-21",
    "5 września 2025": "2025-09-05",
    "21st of January '26": "2026-01-21",
    "ma 5 jan 2026": "2026-01-05",
    "2026-01-20 9.15": "2026-01-20",
}


@pytest.mark.parametrize("typed", DAYS)
def test_a_day_in_another_form(typed: str) -> None:
    assert possible_dates(typed, AS_OF).certain == date.fromisoformat(DAYS[typed])


@pytest.mark.parametrize("typed", ["20/01/2026 9.15", "20/01/2026 2 pm", "20/1/26 14h30", "20.01.2026 um 14 Uhr"])
def test_a_time_of_day_behind_a_date(typed: str) -> None:
    assert possible_dates(typed, AS_OF).by_order[0] == date(2026, 1, 20)


def test_eight_digits_with_the_year_at_the_end_may_be_two_days() -> None:
    both = possible_dates("05012026", AS_OF)
    assert both.by_order[:2] == (date(2026, 1, 5), date(2026, 5, 1))
    assert possible_dates("20012026", AS_OF).by_order == (date(2026, 1, 20), None, None)
    assert possible_dates("20011130", AS_OF).certain == date(2001, 11, 30)


@pytest.mark.parametrize("typed", ["2026-W60-1", "2026年2月30日"])
def test_no_day_of_the_calendar(typed: str) -> None:
    assert possible_dates(typed, AS_OF).reason == "is no day of the calendar: correct the date"


@pytest.mark.parametrize(
    ("typed", "period"),
    [
        *((text, "week") for text in ("KW 9 2026", "2026-W06", "W12/2026", "week 12", "sem. 12 2026")),
        *((text, "month") for text in ("Jan 2026", "12/2025", "2026-01", "stycznia 2026", "März")),
    ],
)
def test_a_week_or_a_month_is_no_day(typed: str, period: str) -> None:
    assert period_of(typed) == period
    assert possible_dates(typed, AS_OF).reason.startswith(f"names a {period} and no day")


@pytest.mark.parametrize("typed", ["hello", "2026-01-04", "R8.3.2", "12"])
def test_other_texts(typed: str) -> None:
    assert period_of(typed) is None
    assert day_of_another_form(typed) is None
