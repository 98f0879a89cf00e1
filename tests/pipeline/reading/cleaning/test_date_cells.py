"""Dates as typed, and one order of day and month for the file."""

from datetime import date, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.date_cells import Order, read_dates

TODAY = date(2026, 11, 25)


def read(*texts: str | None, declared: Order | None = None) -> list[date | None]:
    return read_dates(pl.Series(texts, dtype=pl.String), declared, as_of=TODAY).frame["date"].to_list()


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-04",
        " 2026-03-04 ",
        "2026-03-04 00:00:00",
        "2026-03-04T10:15:00Z",
        "2026/3/4",
        "2026.03.04",
        "20260304",
        "4 Mar 2026",
        "4 March 2026",
        "March 4, 2026",
        "Mar 4th 2026",
        "4-Mar-26",
        "4. März 2026",
        "Wed, 4 March 2026",
        "46085",
        "46085.0",
    ],
)
def test_one_day_in_many_spellings(text: str) -> None:
    """Day number 46085 of a workbook is 2026-03-04: Unix day 20516 + 25569, by arithmetic."""
    assert read(text) == [date(2026, 3, 4)]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["3/4/25", "13/4/25"], [date(2025, 4, 3), date(2025, 4, 13)]),
        (["3/4/25", "4/13/25"], [date(2025, 3, 4), date(2025, 4, 13)]),
        (["3.4.2025", "13.4.2025"], [date(2025, 4, 3), date(2025, 4, 13)]),
        (["12/3/2026", "2/1/2026"], [date(2026, 3, 12), date(2026, 1, 2)]),
        (["3/12/2026", "2/1/2026"], [date(2026, 3, 12), date(2026, 2, 1)]),
    ],
)
def test_one_row_settles_the_file(texts: list[str], expected: list[date]) -> None:
    assert read(*texts) == expected
    assert read(*reversed(texts)) == list(reversed(expected))


def test_without_proof_only_rows_with_one_reading_are_read() -> None:
    found = read_dates(pl.Series(["3/4/25", "4/4/25"]), None, as_of=TODAY)
    assert found.frame["date"].to_list() == [None, date(2025, 4, 4)]
    assert "may be 2025-03-04 or 2025-04-03: set date_order" in found.frame["reason"][0]


def test_a_file_that_proves_both_settles_nothing() -> None:
    assert read("3/4/25", "13/4/25", "4/13/25") == [None, date(2025, 4, 13), date(2025, 4, 13)]


def test_declared_order_stands() -> None:
    assert read("3/4/25", declared="day first") == [date(2025, 4, 3)]
    assert read("3/4/25", declared="month first") == [date(2025, 3, 4)]
    assert read("25/3/4", declared="year first") == [date(2025, 3, 4)]
    found = read_dates(pl.Series(["3/25/25"]), "day first", as_of=TODAY)
    assert found.frame["reason"].to_list() == ["is no date when it is read day first"]


def test_two_digit_years_in_front_are_not_taken_for_days() -> None:
    assert read("25/03/04", "25/03/14", "25/03/22") == [None, None, None]


def test_short_years_have_a_century() -> None:
    assert read("31/12/99", "31/12/24") == [date(1999, 12, 31), date(2024, 12, 31)]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("31/2/2026", "no day of the calendar"),
        ("2026-13-45", "no day of the calendar"),
        ("3/4", "has no year"),
        ("yesterday", "is no date"),
        ("March 2026", "is no date"),
        ("12345678", "no day of the calendar"),
        ("99999", "is no date"),
        ("1/1/202", "is no date"),
    ],
)
def test_what_is_no_date(text: str, reason: str) -> None:
    found = read_dates(pl.Series([text]), None, as_of=TODAY).frame
    assert found["date"].to_list() == [None]
    assert reason in found["reason"][0]


days = st.dates(date(2005, 1, 1), TODAY)


@given(
    st.lists(days, min_size=1, max_size=8),
    st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%Y-%m-%d", "%d %b %Y", "%Y/%m/%d"]),
)
def test_a_date_is_read_as_written_or_not_at_all(written: list[date], form: str) -> None:
    """A file in one order never yields another day, unless its own future dates say the other order."""
    texts = [day.strftime(form) for day in written]
    found = read(*texts)
    unproven = form in ("%d/%m/%Y", "%m/%d/%Y") and all(day.day <= 12 for day in written)
    if unproven:
        assert all(
            day in (None, right) or right.day != right.month for day, right in zip(found, written, strict=True)
        )
    else:
        assert found == written


@given(st.lists(days, min_size=2, max_size=6), st.randoms(use_true_random=False))
def test_order_of_rows_does_not_matter(written: list[date], random: object) -> None:
    texts = [day.strftime("%d/%m/%y") for day in written]
    by_text = dict(zip(texts, read(*texts), strict=True))
    random.shuffle(texts)  # type: ignore[attr-defined]
    assert read(*texts) == [by_text[text] for text in texts]


@given(
    st.lists(
        st.one_of(st.none(), st.text(max_size=14), st.from_regex(r"\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}", fullmatch=True))
    )
)
def test_any_text_is_a_date_or_has_a_reason_or_is_blank(texts: list[str | None]) -> None:
    frame = read_dates(pl.Series(texts, dtype=pl.String), None, as_of=TODAY).frame
    assert frame.height == len(texts)
    assert frame.filter(pl.col("date").is_not_null() & pl.col("reason").is_not_null()).is_empty()
    silent = frame.filter(pl.col("date").is_null() & pl.col("reason").is_null())
    assert silent.height <= sum(text is None or len(text.strip()) <= 8 for text in texts)


def test_a_workbooks_first_day_is_not_a_date() -> None:
    assert read("2", "25568") == [None, None]
    assert read("25569") == [date(1970, 1, 1)]
    assert read("25570") == [date(1970, 1, 1) + timedelta(days=1)]
