"""A date with a wrong year or month is seen where the rows around it in the file are in order."""

from datetime import date, timedelta

import pytest

START = date(2025, 9, 1)
UNITS = ("F01", "F02", "F03")


def rows(count: int = 40, **changed: str) -> list[dict]:
    """Drains every six days, in order of date; changed : dates by their row, such as row21="2025-01-05"."""
    days = [(START + timedelta(days=6 * at)).isoformat() for at in range(count)]
    days = [changed.get(f"row{at}", day) for at, day in enumerate(days)]
    return [
        {"unit_id": UNITS[at % 3], "drained_on": day, "oil_hours": str(10 + at % 4)} for at, day in enumerate(days)
    ]


def said(log) -> list[tuple]:
    about = log.reasons.filter(log.reasons["message"].str.contains("by the rows around it"))
    return about.select("line", "proposal").rows()


@pytest.mark.parametrize(
    ("slip", "far"),
    [("2024-01-05", "2 years early"), ("2016-01-05", "10 years early"), ("2005-01-05", "21 years early")],
)
@pytest.mark.parametrize("newest_first", [False, True])
def test_a_date_that_is_years_off_is_held_back(check, newest_first, slip, far) -> None:
    log = check(*rows(row21=slip)[:: -1 if newest_first else 1])
    assert said(log) == [(20 if newest_first else 23, "2026-01-05")]
    assert log.reasons["message"][0].startswith(f"is {far} by the rows around it in the file: is it 2026-01-05?")
    assert log.held_back_count == 1


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize(("at", "slip", "day"), [(21, "2025-01-05", "2026-01-05"), (3, "2026-09-19", "2025-09-19")])
def test_a_date_a_year_off_is_held_back_unless_it_is_confirmed(check, newest_first, at, slip, day) -> None:
    typed = rows(**{f"row{at}": slip})[:: -1 if newest_first else 1]
    log = check(*typed)
    assert said(log) == [(2 + (39 - at if newest_first else at), day)]
    assert log.held_back_count == 1
    confirmed = [row | {"confirmed": "yes" if row["drained_on"] == slip else None} for row in typed]
    assert check(*confirmed).held_back_count == 0


def test_several_rows_of_january_with_the_old_year(check) -> None:
    log = check(*rows(row21="2025-01-05", row22="2025-01-11", row23="2025-01-17"))
    assert said(log) == [(23, "2026-01-05"), (24, "2026-01-11"), (25, "2026-01-17")]


def test_good_rows_between_slips_are_good(check) -> None:
    log = check(*rows(row21="2025-01-05", row23="2025-01-17"))
    assert said(log) == [(23, "2026-01-05"), (25, "2026-01-17")]
    assert log.held_back_count == 2


def test_a_file_in_order_of_units(check) -> None:
    typed = sorted(rows(row21="2025-01-05"), key=lambda row: row["unit_id"])
    [(line, day)] = said(check(*typed))
    assert (typed[line - 2]["drained_on"], day) == ("2025-01-05", "2026-01-05")


def test_hours_by_the_meter_do_not_pass_over_a_drain_whose_day_is_not_known(check) -> None:
    typed = [row | {"unit_id": "F01", "oil_hours": None} for row in rows(row21="2025-01-05")]
    log = check(*[row | {"meter_hours": str(10 * at)} for at, row in enumerate(typed, 1)])
    assert len(said(log)) == 1
    drains = log.accepted["drains"].sort("line")
    assert drains.filter(hours_basis="meter")["oil_hours"].unique().to_list() == [10.0]
    assert drains.filter(line=24)["hours_basis"].to_list() == ["unknown"]


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize(
    ("at", "slip", "far"),
    [
        (21, "2026-02-05", "a month late"),
        (21, "2025-12-05", "a month early"),
        (21, "2026-03-05", "2 months late"),
        (3, "2025-10-19", "a month late"),
        (38, "2026-03-17", "a month early"),
    ],
)
def test_a_wrong_month_is_held_back_unless_it_is_confirmed(check, newest_first, at, slip, far) -> None:
    typed = rows(**{f"row{at}": slip})[:: -1 if newest_first else 1]
    log = check(*typed)
    assert said(log) == [(2 + (39 - at if newest_first else at), (START + timedelta(days=6 * at)).isoformat())]
    assert log.reasons["message"][0].startswith(f"is {far} by the rows around it")
    assert check(*[row | {"confirmed": "yes"} for row in typed]).held_back_count == 0


def test_several_rows_below_each_other_with_the_next_month(check) -> None:
    log = check(*rows(row21="2026-02-05", row22="2026-02-11"))
    assert said(log) == [(23, "2026-01-05"), (24, "2026-01-11")]


def test_a_month_that_is_wrong_in_a_file_in_order_of_units(check) -> None:
    typed = sorted(rows(row21="2026-02-05"), key=lambda row: row["unit_id"])
    [(line, day)] = said(check(*typed))
    assert (typed[line - 2]["drained_on"], day) == ("2026-02-05", "2026-01-05")


def entered_late(*late: int) -> list[dict]:
    """The same rows of which some are entered three weeks later, below rows of their own day."""
    typed = rows()
    return [row for _, row in sorted(enumerate(typed), key=lambda one: one[0] + 3.5 * (one[0] in late))]


@pytest.mark.parametrize(
    "typed",
    [
        rows(),
        entered_late(10),
        entered_late(5, 17, 30),
        rows(row21="2026-07-05"),
        rows(row39="2026-03-23"),
        rows(row9="2025-09-10", row20="2025-12-08", row30="2026-02-14"),
        rows(row21="2025-03-05"),
        rows(row39="2024-06-05"),
        rows(7, row3="2024-09-19"),
        [
            *rows(),
            *[row | {"drained_on": str(date.fromisoformat(row["drained_on"]) - timedelta(365))} for row in rows()],
        ],
        sorted(rows(row21="2025-01-05"), key=lambda row: row["oil_hours"]),
    ],
)
def test_dates_that_show_no_slip(check, typed) -> None:
    assert said(check(*typed)) == []
