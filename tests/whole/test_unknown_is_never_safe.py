"""A missing value must never move a date later, nor lengthen an interval (an owner's rule of the trade)."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial
from pathlib import Path

import polars as pl
import pytest
from small_logs import AS_OF, Outcome, run_program, simple_log, write_rows

SOONEST = date(1970, 1, 1)


def dates(outcome) -> dict[str, date]:
    """Due date of each unit; a date that is not known counts as now."""
    table = outcome.table("next_service")
    return dict(zip(table["unit_id"], table["due_on"].fill_null(SOONEST), strict=True))


def register(units: int, **more: object) -> list[dict]:
    return [
        {"unit_id": f"U{unit + 1:02d}", "max_interval_h": 20 + unit, "max_oil_days": 120, **more}
        for unit in range(units)
    ]


def usage(units: int, days: int = 9, hours: float = 0.6) -> list[dict]:
    first = date(2026, 6, 11)
    return [
        {"unit_id": f"U{unit + 1:02d}", "date": (first + timedelta(days=day)).isoformat(), "hours": hours}
        for unit in range(units)
        for day in range(days)
    ]


def bookings(units: int) -> list[dict]:
    days = [date(2026, 6, 24), date(2026, 7, 2), date(2026, 7, 11)]
    return [
        {"unit_id": f"U{unit + 1:02d}", "date": day.isoformat(), "hours": 5.0 - place}
        for unit in range(units)
        for place, day in enumerate(days)
    ]


def plan_of_shop(folder: Path, drains=None, units=None, used=None, booked=None, page=False) -> Outcome:
    """The plan of a shop of four units, with what is given in place of its own."""
    args = ["--units", write_rows(folder / "units.csv", register(4) if units is None else units)]
    args += ["--usage", write_rows(folder / "usage.csv", usage(4) if used is None else used)]
    args += ["--bookings", write_rows(folder / "bookings.csv", bookings(4) if booked is None else booked)]
    log = write_rows(folder / "log.csv", simple_log(4, 8) if drains is None else drains)
    return run_program("plan", log, *args, "--as-of", AS_OF, out=folder / "out", page=page, pictures=False)


@pytest.fixture
def shop(tmp_path):
    """Runs the same shop with one thing changed."""
    return partial(plan_of_shop, tmp_path)


@pytest.fixture(scope="module")
def known(tmp_path_factory) -> Outcome:
    """The shop with nothing changed."""
    return plan_of_shop(tmp_path_factory.mktemp("known"))


def never_later(before, after) -> None:
    known, unknown = dates(before), dates(after)
    assert set(known) == set(unknown)
    for unit, day in known.items():
        assert unknown[unit] <= day, f"{unit}: {day} became {unknown[unit]}"


@pytest.mark.parametrize("spelt", ["UO1", "U1 (left)", "U-1"])
def test_a_unit_under_another_spelling_in_the_other_tables(shop, known, spelt: str) -> None:
    def respelt(rows: list[dict]) -> list[dict]:
        return [row | {"unit_id": spelt} if row["unit_id"] == "U01" else row for row in rows]

    limits = respelt(register(4))
    limits[0]["max_interval_h"] = 9
    hard = usage(4, hours=1.1)
    right = shop(units=[register(4)[0] | {"max_interval_h": 9}, *register(4)[1:]], used=hard)
    after = shop(units=limits, used=respelt(hard), booked=respelt(bookings(4)))
    assert f"are '{spelt}' and 'U01' one? They are kept apart" in after.printed
    table, expected = (one.table("next_service").filter(pl.col("unit_id") == "U01") for one in (after, right))
    assert table["interval_h"].item() <= expected["interval_h"].item()
    assert table["hours_on_oil"].item() >= expected["hours_on_oil"].item()
    assert {dates(after)[unit] <= day for unit, day in dates(right).items()} == {True}


def test_blank_hours_of_a_usage_row(shop, known) -> None:
    used = usage(4)
    used[3] = used[3] | {"hours": ""}
    never_later(known, shop(used=used))


def test_no_usage_rows_after_some_day(shop, known) -> None:
    never_later(known, shop(used=[row for row in usage(4) if row["date"] < "2026-06-15"]))


def test_blank_hours_of_a_booking(shop, known) -> None:
    booked = bookings(4)
    booked[1] = booked[1] | {"hours": ""}
    never_later(known, shop(booked=booked))


@pytest.mark.parametrize("column", ["max_interval_h", "max_oil_days"])
def test_blank_limit_of_a_unit_whose_limit_is_not_the_shortest(shop, known, column: str) -> None:
    units = register(4)
    units[2] = units[2] | {column: ""}
    never_later(known, shop(units=units))


def test_blank_in_service_keeps_the_unit(shop) -> None:
    outcome = shop(units=register(4, in_service=""))
    assert set(dates(outcome)) == {"U01", "U02", "U03", "U04"}


def test_a_held_back_drain_does_not_reset_the_oil_clock(shop, known) -> None:
    drains = simple_log(4, 8)
    newest = max(range(len(drains)), key=lambda at: (drains[at]["unit_id"] == "U01", drains[at]["drained_on"]))
    drains[newest] = drains[newest] | {"rider": ""}
    outcome = shop(drains=drains)
    assert dates(outcome)["U01"] <= dates(known)["U01"]
    row = outcome.table("next_service").filter(pl.col("unit_id") == "U01")
    assert row["hours_on_oil"][0] > 9 * 0.6


@pytest.mark.parametrize("sign", ["milky", "leak", "burnt"])
def test_a_blank_sign_does_not_clear_an_earlier_one_where_no_is_written(shop, sign: str) -> None:
    drains = [row | {sign: "no"} for row in simple_log(2, 4)]
    drains[1] = drains[1] | {sign: "yes"}  # the last but one of U01
    drains[0] = drains[0] | {sign: ""}
    outcome = shop(drains=drains, units=register(2), used=usage(2), booked=bookings(2), page=True)
    assert sign in outcome.page()
    assert "Inspect 1 unit now" in outcome.page()


@pytest.mark.parametrize(
    "held_back", [{"leak": "yes", "oil_hours": -3}, {"leak": "behind it"}, {"leak": "at the top"}]
)
def test_a_sign_on_a_held_back_drain_still_calls_for_a_look(shop, held_back: dict) -> None:
    drains = [row | {"leak": "no"} for row in simple_log(2, 4)]
    drains[0] = drains[0] | held_back
    outcome = shop(drains=drains, units=register(2), used=usage(2), booked=bookings(2), page=True)
    assert outcome.status == 3
    assert "Inspect 1 unit now" in outcome.page()


@pytest.mark.parametrize(
    "held_back",
    [
        {"oil_hours": -3},
        {"rider": ""},
        {"colour_rating": 7},
        {"debris_rating": "5!"},
        {"debris_rating": "flakes all over"},
        {"drained_on": "last week"},
    ],
)
def test_flakes_on_a_held_back_drain_call_for_a_look(shop, held_back: dict) -> None:
    drains = simple_log(2, 4)
    drains = [row | {"debris_rating": min(row["debris_rating"], 4)} for row in drains]
    drains[0] = drains[0] | {"debris_rating": 5} | held_back
    outcome = shop(drains=drains, units=register(2), used=usage(2), booked=bookings(2), page=True)
    assert outcome.status == 3
    assert "Inspect 1 unit now" in outcome.page()
    assert "flakes" in outcome.page()


def test_a_limit_in_a_held_back_row_of_the_register_still_caps(shop) -> None:
    units = register(4)
    units[0] = units[0] | {"max_interval_h": 4, "fill_ml": -5}
    table = shop(units=units).table("next_service")
    assert table.filter(pl.col("unit_id") == "U01")["interval_h"][0] <= 4


@pytest.mark.parametrize("hours", ["-2", "many"])
def test_a_usage_row_held_back_for_its_hours_does_not_lose_the_ride(shop, known, hours: str) -> None:
    used = usage(4)
    used[3] = used[3] | {"hours": hours}
    never_later(known, shop(used=used))


def test_a_booking_held_back_for_its_hours_does_not_lose_the_event(shop, known) -> None:
    booked = bookings(4)
    booked[0] = booked[0] | {"hours": "-4"}
    never_later(known, shop(booked=booked))


@pytest.mark.parametrize(
    ("column", "values"),
    [
        ("spring_hours", lambda at: 3.0 + 9.0 * (at % 8)),
        ("drained_ml", lambda at: 500 - 20 * (at % 3)),
        ("settle_hours", lambda _: 0.167),
        ("surface", lambda _: "sand"),
        ("rated_by", lambda _: "KB"),
        ("site", lambda _: "bench"),
    ],
)
def test_blanking_a_column_of_the_last_drain(shop, column: str, values) -> None:
    """What a fill went through, unknown for each unit's last drain: the present fill counts as the dirtier case."""
    full = [row | {column: values(at), "filled_ml": 520} for at, row in enumerate(simple_log(4, 8))]
    last: dict[str, int] = {}
    for at, row in enumerate(full):
        if row["drained_on"] > full[last.setdefault(row["unit_id"], at)]["drained_on"]:
            last[row["unit_id"]] = at
    blanked = [row | {column: ""} if at in last.values() else row for at, row in enumerate(full)]
    before, after = shop(drains=full), shop(drains=blanked)
    step = 0.5
    kept = before.table("next_service").select("unit_id", "interval_h")
    joined = kept.join(after.table("next_service").select("unit_id", now="interval_h"), on="unit_id")
    assert (joined["now"] <= joined["interval_h"] + step).all()
