"""Dates as typed, and one order of day and month for the file."""

from datetime import date, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.date_cells import SettledOrder, read_dates
from draincurve.pipeline.reading.cleaning.date_texts import NO_DATE, NO_YEAR, Order

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
        (["3-4-2025", "13-4-2025"], [date(2025, 4, 3), date(2025, 4, 13)]),
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
    assert "may be 2025-03-04 or 2025-04-03: write the right one" in found.frame["reason"][0]


def test_a_file_that_proves_both_settles_nothing() -> None:
    assert read("3/4/25", "13/4/25", "4/13/25") == [None, date(2025, 4, 13), date(2025, 4, 13)]


def test_declared_order_stands() -> None:
    assert read("3/4/25", declared="day first") == [date(2025, 4, 3)]
    assert read("3/4/25", declared="month first") == [date(2025, 3, 4)]
    assert read("25/3/4", declared="year first") == [date(2025, 3, 4)]
    found = read_dates(pl.Series(["3/4/25"]), "day first", as_of=TODAY)
    assert found.frame.rows() == [(date(2025, 4, 3), None, None, False)]
    found = read_dates(pl.Series(["3/25/25"]), "day first", as_of=TODAY)
    assert found.frame["reason"].to_list() == ["is no date when it is read day first: write it like 2026-03-04"]


def test_two_digit_years_in_front_are_not_taken_for_days() -> None:
    assert read("25/03/04", "25/03/14", "25/03/22") == [None, None, None]


@pytest.mark.parametrize(("mark", "years"), [("/", (25, 25)), ("-", (25, 26)), (".", (25, 25))])
def test_two_digit_years_in_front_are_read_where_nothing_else_is_possible(mark: str, years: tuple[int, int]) -> None:
    """Seen from 2026, days from 27 on can be no years; a single one may be a slip."""
    first, last = years
    texts = [
        mark.join(parts) for parts in ((f"{first}", "01", "08"), (f"{first}", "03", "31"), (f"{last}", "04", "29"))
    ]
    days = [date(2000 + first, 1, 8), date(2000 + first, 3, 31), date(2000 + last, 4, 29)]
    found = read_dates(pl.Series(texts), None, as_of=TODAY)
    assert found.frame["date"].to_list() == days
    assert found.orders[mark] == SettledOrder("year first", texts[1], by_today=True)
    assert read(*texts[:2])[0] is None
    assert read_dates(pl.Series(texts), None, as_of=TODAY, planned=True).frame["date"][0] is None
    assert read(*texts, mark.join(("11", "02", "08")))[0] is None, "which may be month first"


@pytest.mark.parametrize(("short", "year"), [("99", 1999), ("24", 2024), ("00", 2000), ("46", 2046), ("47", 1947)])
def test_short_years_lie_within_the_last_eighty_and_the_next_twenty(short: str, year: int) -> None:
    """Seen from 2026, in every way of writing them."""
    assert read(f"31/12/{short}") == read(f"31 Dec {short}") == read(f"December 31, {short}") == [date(year, 12, 31)]
    assert read(f"{short}/12/31", declared="year first") == [date(year, 12, 31)]


def test_a_year_of_one_or_three_digits_is_none() -> None:
    assert read("4 Mar 202", "Mar 4, 202", "4/3/6", "4/3/202") == [None] * 4
    assert read("26/3/4", declared="year first") == read("26/3/4") == [date(2026, 3, 4)]
    assert read("126/3/4", declared="year first") == [None]


def test_the_months_by_name_in_english_and_german() -> None:
    english = (
        "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
        "December",
    )  # fmt: skip
    german = (
        "Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November",
        "Dezember",
    )  # fmt: skip
    expected = [date(2026, month, 4) for month in range(1, 13)]
    for names in (english, german, [name[:3] for name in english], [name[:3].upper() for name in german]):
        assert read(*(f"4 {name} 2026" for name in names)) == expected
        assert read(*(f"{name} 4, 2026" for name in names)) == expected
    assert read("4 Sept. 2026", "4 mrz 2026", "4 Maerz 2026") == [date(2026, 9, 4), *[date(2026, 3, 4)] * 2]
    assert read("4 Foo 2026", "31 Apr 2026") == [None, None]


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ("janvier février mars avril mai juin juillet août septembre octobre novembre décembre", "4 {} 26"),
        ("janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.", "4 {} 2026"),
        ("janvier fevrier mars avril mai juin juillet aout septembre octobre novembre decembre", "le 4 {} 26"),
        (
            "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
            "4 de {} de 2026",
        ),
        ("ene feb mar abr may jun jul ago sept oct nov dic", "4-{}-26"),
        (
            "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
            "4 {} 2026",
        ),
        ("gen feb mar apr mag giu lug ago set ott nov dic", "il 4 {} 26"),
        ("Jän. Feb. März April Mai Juni Juli Aug. Sept. Okt. Nov. Dez.", "den 4. {} 2026"),
        ("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", "2026-{}-04"),
    ],
)
def test_months_by_name_in_five_languages(names: str, text: str) -> None:
    expected = [date(2026, month, 4) for month in range(1, 13)]
    assert read(*(text.format(name) for name in names.split())) == expected
    assert read("4 de marzo de 2026", "4 de mayo del 2026") == [date(2026, 3, 4), date(2026, 5, 4)]
    assert read("1er mars 2026", "1º marzo 2026") == [date(2026, 3, 1)] * 2


@pytest.mark.parametrize(
    ("texts", "order", "proof"),
    [
        (["3/4/25", "13/4/25", "14/4/25"], "day first", "13/4/25"),
        (["3/4/25", "4/13/25"], "month first", "4/13/25"),
        (["12/3/2026"], "day first", "12/3/2026"),
        (["3/12/2026"], "month first", "3/12/2026"),
        (["3/4/2026", "13/4/2027"], "day first", "13/4/2027"),
        (["3/4/25"], None, None),
        (["13/4/25", "4/13/25"], None, None),
        (["12/3/2026", "3/12/2026"], None, None),
        (["2026-03-04", "4 Mar 2026", "nonsense"], None, None),
    ],
)
def test_the_order_comes_with_the_text_that_proves_it(texts: list[str], order: str | None, proof: str | None) -> None:
    """A day over 12, or else a date that is to come when it is read the other way."""
    settled = read_dates(pl.Series(texts), None, as_of=TODAY).orders.get("/", SettledOrder())
    assert (settled.order, settled.proof) == (order, proof)
    declared = read_dates(pl.Series(texts), "month first", as_of=TODAY).orders
    assert all(one == SettledOrder("month first") for one in declared.values())


def test_an_order_that_only_today_proves_says_so_and_proves_nothing_of_planned_days() -> None:
    def settled(*texts: str, planned: bool = False) -> SettledOrder:
        return read_dates(pl.Series(texts), None, as_of=TODAY, planned=planned).orders["/"]

    assert settled("12/3/2026").by_today
    assert not settled("12/3/2026", "13/4/2026").by_today
    assert settled("12/3/2026", planned=True) == SettledOrder()
    assert settled("13/4/2026", "12/3/2026", planned=True) == SettledOrder("day first", "13/4/2026")


def test_today_is_no_date_to_come() -> None:

    def order(text: str, as_of: date) -> Order | None:
        return read_dates(pl.Series([text]), None, as_of=as_of).orders["/"].order

    assert order("11/12/2026", date(2026, 11, 12)) == "month first"
    assert order("11/12/2026", date(2026, 11, 11)) is None
    assert order("1/2/1970", TODAY) is None


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["03.02.2026", "05/20/2026"], [date(2026, 2, 3), date(2026, 5, 20)]),
        (["03.02.2026", "05/20/2026", "03/02/2026"], [date(2026, 2, 3), date(2026, 5, 20), date(2026, 3, 2)]),
        (["03.02.2026", "05-20-2026", "1/2/2026"], [date(2026, 2, 3), date(2026, 5, 20), None]),
        (["3.4.26", "4.5.26"], [date(2026, 4, 3), date(2026, 5, 4)]),
        (["03.02.2026", "02.13.2026", "05.20.2026"], [None, date(2026, 2, 13), date(2026, 5, 20)]),
        (["13/02/2026", "02/13/2026", "03/02/2026"], [date(2026, 2, 13), date(2026, 2, 13), None]),
        (["13-02-2026", "02/13/2026", "03-02-2026"], [date(2026, 2, 13), date(2026, 2, 13), date(2026, 2, 3)]),
    ],
)
def test_the_order_is_settled_for_each_separator_and_dots_are_day_first(texts: list[str], expected: list) -> None:
    assert read(*texts) == expected


def test_a_contradiction_is_named_in_the_reason() -> None:
    found = read_dates(pl.Series(["13/02/2026", "02/13/2026", "03/02/2026"]), None, as_of=TODAY)
    assert found.orders["/"].contradiction == ("13/02/2026", "02/13/2026")
    assert "('13/02/2026' is day first, '02/13/2026' month first)" in found.frame["reason"][2]
    dotted = read_dates(pl.Series(["05.20.2026", "03.02.2026"]), None, as_of=TODAY)
    assert "('05.20.2026' is month first)" in dotted.frame["reason"][1]
    assert dotted.orders["."].contradiction == ("", "05.20.2026"), "dots alone say day first, not a text"


def test_dots_need_no_text_that_proves_their_order() -> None:
    orders = read_dates(pl.Series(["03.02.2026"]), None, as_of=TODAY).orders
    assert orders == {".": SettledOrder("day first")}


def test_the_first_day_of_1970_may_be_a_drain_and_the_day_before_may_not() -> None:
    """A year in front is considered only where it gives days that a log may hold."""
    assert read_dates(pl.Series(["70/01/01", "13/05/06"]), None, as_of=TODAY).orders["/"].order is None
    assert read_dates(pl.Series(["69/12/31", "13/05/06"]), None, as_of=TODAY).orders["/"].order == "day first"
    assert read_dates(pl.Series(["12/3/1970"]), None, as_of=date(1970, 11, 25)).orders["/"].order == "day first"
    assert read("1 January 1970") == [date(1970, 1, 1)]


def test_short_years_in_front_are_considered_where_they_bring_the_dates_closer() -> None:
    """A bench's dates lie within seasons, not decades: then the order stays open, and the reasons name every one."""
    found = read_dates(pl.Series(["24/05/06", "24/05/07", "24/06/08"]), None, as_of=TODAY)
    assert found.frame["date"].to_list() == [None] * 3
    assert "may be 2006-05-24 or 2024-05-06: write the right one" in found.frame["reason"][0]
    assert read("06/05/24", "07/05/24", "13/05/24") == [date(2024, 5, 6), date(2024, 5, 7), date(2024, 5, 13)]
    assert read("13/02/03") == [date(2003, 2, 13)], "one date is as close to itself in every order"
    assert read("6/5/24", declared="year first") == [None], "a year has two digits"
    assert read("24/05/06", "6/5/24") == [None, date(2024, 5, 6)], "its year may come first in one date alone"


def test_a_workbooks_day_number_is_read_and_noted() -> None:
    found = read_dates(pl.Series(["46085", "46085.75", "80000", "80001"]), None, as_of=TODAY).frame
    assert found["date"].to_list() == [date(2026, 3, 4), date(2026, 3, 4), date(2119, 1, 11), None]
    assert found["note"][0] == "'46085' is a workbook's day number: read as 2026-03-04"
    assert found["note"][3] is None


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("3/4", NO_YEAR),
        ("3 Feb", NO_YEAR),
        ("Feb 3", NO_YEAR),
        ("3. März", NO_YEAR),
        ("soon", NO_DATE),
        ("30/30/2026", "is no day of the calendar: correct the date"),
        ("2026-02-30", "is no day of the calendar: correct the date"),
        ("20260230", "is no day of the calendar: correct the date"),
        ("30 Feb 2026", "is no day of the calendar: correct the date"),
        ("126/3/4", NO_DATE),
        ("126/3/04", NO_DATE),
        (
            "3/4/2025",
            "may be 2025-03-04 or 2025-04-03: write the right one, or set date_order in the settings",
        ),
        ("30/3/4", NO_DATE),
    ],
)
def test_why_a_text_is_no_date(text: str, reason: str) -> None:
    assert read_dates(pl.Series([text]), None, as_of=TODAY).frame["reason"].to_list() == [reason]


def test_any_white_space_parts_a_day_from_its_time() -> None:
    assert read("13/3/2026\t10:15", "13/3/2026 \n 10:15", "4\tMar\t2026\t10:15") == [
        *[date(2026, 3, 13)] * 2,
        date(2026, 3, 4),
    ]


def test_words_behind_a_date_written_in_full_do_not_matter() -> None:
    assert read("2026-03-04 after the race") == [date(2026, 3, 4)]
    assert read("13/4/2025", "2026-03-04 after the race") == [date(2025, 4, 13), date(2026, 3, 4)]


def test_blank_cells_have_neither_date_nor_reason() -> None:
    found = read_dates(pl.Series([None, "", "  ", "-", "n/a"], dtype=pl.String), None, as_of=TODAY).frame
    assert found.rows() == [(None, None, None, False)] * 5


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("31/2/2026", "no day of the calendar"),
        ("2026-13-45", "no day of the calendar"),
        ("3/4", "has no year"),
        ("yesterday", "is no date"),
        ("March 2026", "names a month and no day"),
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


def test_dates_that_only_the_others_can_settle_are_marked() -> None:
    texts = pl.Series(["14/05/2026", "04/05/2026", "05/05/2026", "04.05.2026", "2026-05-04", "4 May 2026"])
    assert read_dates(texts, None, as_of=TODAY).frame["either"].to_list() == [False, True, *[False] * 4]
    assert not read_dates(texts, "day first", as_of=TODAY).frame["either"].any()


@pytest.mark.parametrize(
    "texts",
    [
        ["2026-01-10", "26-03-04", "2026-04-10"],
        ["2026-01-10", "04-03-26", "26-03-04"],
        ["26-01-10", "26-02-10", "26-03-10"],
        ["26.03.04", "2026-04-10"],
    ],
)
def test_a_year_of_two_digits_that_may_come_first_is_held_back(texts: list[str]) -> None:
    """Read day first, 26-03-04 would be of 2004, among dates of 2026."""
    read = read_dates(pl.Series(texts), None, as_of=date(2026, 11, 25)).frame
    doubtful = [text.startswith("26") for text in texts]
    assert read["date"].is_null().to_list() == doubtful
    assert all("or 2026-0" in reason for reason in read["reason"].drop_nulls())


def test_a_log_of_old_dates_keeps_them() -> None:
    texts = pl.Series(["26.03.04", "2004-04-10", "14.05.04"])
    read = read_dates(texts, None, as_of=date(2026, 11, 25)).frame
    assert read["date"].to_list() == [date(2004, 3, 26), date(2004, 4, 10), date(2004, 5, 14)]


@pytest.mark.parametrize("text", ["2026-03-04 - 2026-03-06", "2026-03-04 to 06", "2026-03-04 or 05"])
def test_a_date_with_more_than_a_time_behind_it_is_held_back(text: str) -> None:
    read = read_dates(pl.Series([text]), None, as_of=date(2026, 11, 25)).frame
    assert read["date"].to_list() == [None]
    assert "is no date" in read["reason"].item()


@pytest.mark.parametrize("clock", ["T10:30", " 10:30:00", "T10:30:00Z", " 9:05", "T10:30:00.000+02:00", ""])
def test_a_time_behind_a_date_is_passed_over(clock: str) -> None:
    read = read_dates(pl.Series([f"2026-03-04{clock}"]), None, as_of=date(2026, 11, 25)).frame
    assert read["date"].to_list() == [date(2026, 3, 4)]


@pytest.mark.parametrize(
    "text",
    [
        *(
            "Wed 4/3/2026",
            "Mi. 4.3.2026",
            "mercredi 04/03/26",
            "4.3.2026 (Wed)",
            "Wednesday, 4 March 2026",
            "mié 4-3-2026",
        ),
        *("Mittwoch, den 4. März 2026", "Wed, Mar 4, 2026", "Wed 2026-03-04", "04/03/2026, mer."),
    ],
)
def test_a_weekday_stands_before_or_behind_its_date(text: str) -> None:
    assert read(text) == [date(2026, 3, 4)]


@pytest.mark.parametrize("text", ["Tue 13/03/2026", "Mo 13.3.2026", "Sunday 13 March 2026", "2026-03-13 (Sat)"])
def test_a_weekday_that_does_not_fit_is_no_date(text: str) -> None:
    found = read_dates(pl.Series([text]), None, as_of=TODAY).frame
    assert found["date"].to_list() == [None]
    assert found["reason"].item().startswith("the weekday does not fit: 2026-03-13 is a Friday")


def test_a_weekday_settles_the_order_where_nothing_else_does() -> None:
    assert read("Wed 04/03/2026", "05/06/2025") == [date(2026, 3, 4), date(2025, 6, 5)]
    assert read("Fri 04/03/2026", "05/06/2025") == [date(2026, 4, 3), date(2025, 5, 6)]
    order = read_dates(pl.Series(["Fri 04/03/2026"]), None, as_of=TODAY).orders["/"]
    assert (order.order, order.proof) == ("month first", "Fri 04/03/2026")


def test_a_wrong_weekday_settles_nothing_against_a_date_that_does() -> None:
    assert read("Mon 05/04/2026", "23/03/2026") == [None, date(2026, 3, 23)]


@pytest.mark.parametrize("text", ["ca. 4.3.2026", "~4/3/2026", "4.3.2026?", "about 4 March 2026", "2026-03-04 (?)"])
def test_a_rough_date_is_read_with_a_note(text: str) -> None:
    found = read_dates(pl.Series([text, "13/3/2025"]), None, as_of=TODAY).frame
    assert found["date"][0] == date(2026, 3, 4)
    assert found["note"][0] == f"'{text}' is approximate"


@pytest.mark.parametrize("text", ["2026-03-04*", "4.3.2026¹", "'4.3.2026'", "13/03/2026 †"])
def test_a_date_with_a_mark_beside_it_says_so(text: str) -> None:
    found = read_dates(pl.Series([text]), None, as_of=TODAY).frame
    assert found["date"].to_list() == [None]
    assert found["reason"].item().startswith("holds a mark beside the date")


@pytest.mark.parametrize("text", ["before 4 March 2026", "not 4 March 2026", "after 4 March 2026"])
def test_a_word_that_moves_a_date_is_not_passed_over(text: str) -> None:
    assert read(text) == [None]


def test_a_day_alone_says_what_it_lacks() -> None:
    found = read_dates(pl.Series(["23.", "7"]), None, as_of=TODAY).frame
    assert found["reason"].str.starts_with("has no month and no year").all()
