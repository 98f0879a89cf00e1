"""A missing value must never move a date later, nor lengthen an interval (an owner's rule of the trade)."""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial
from pathlib import Path

import polars as pl
import pytest
from no_evidence import no_evidence
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
    with no_evidence():
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


HARD_USE, STRICT_LIMITS = usage(4, hours=1.1), [register(4)[0] | {"max_interval_h": 9}, *register(4)[1:]]


@pytest.fixture(scope="module")
def hard_use(tmp_path_factory) -> Outcome:
    """The shop with U01 ridden hard and a shorter limit for it."""
    return plan_of_shop(tmp_path_factory.mktemp("hard"), units=STRICT_LIMITS, used=HARD_USE)


@pytest.mark.parametrize("spelt", ["UO1", "U1 (left)", "U-1"])
def test_a_unit_under_another_spelling_in_the_other_tables(shop, hard_use, spelt: str) -> None:
    def respelt(rows: list[dict]) -> list[dict]:
        return [row | {"unit_id": spelt} if row["unit_id"] == "U01" else row for row in rows]

    after = shop(units=respelt(STRICT_LIMITS), used=respelt(HARD_USE), booked=respelt(bookings(4)))
    assert f"are '{spelt}' and 'U01' one? They count as two until you answer" in after.printed
    table, expected = (one.table("next_service").filter(pl.col("unit_id") == "U01") for one in (after, hard_use))
    assert table["interval_h"].item() <= expected["interval_h"].item()
    assert table["hours_on_oil"].item() >= expected["hours_on_oil"].item()
    assert {dates(after)[unit] <= day for unit, day in dates(hard_use).items()} == {True}


def test_blank_hours_of_a_usage_row(shop, known) -> None:
    used = usage(4)
    used[3] = used[3] | {"hours": ""}
    never_later(known, shop(used=used))


def test_no_usage_rows_after_some_day(shop, known) -> None:
    never_later(known, shop(used=[row for row in usage(4) if row["date"] < "2026-06-15"]))


def test_blank_hours_of_a_booking_and_blank_limits_that_are_not_the_shortest(shop, known) -> None:
    """Each of a unit of its own, on whose date alone it bears."""
    booked, units = bookings(4), register(4)
    booked[1] = booked[1] | {"hours": ""}
    units[2] = units[2] | {"max_interval_h": ""}
    units[3] = units[3] | {"max_oil_days": ""}
    never_later(known, shop(booked=booked, units=units))


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


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"rider": "", "colour_rating": 5}, True),
        ({"oil_hours": "?", "debris_rating": "4-5"}, True),
        ({"rider": "", "colour_rating": 2}, False),
    ],
)
def test_a_held_back_drain_past_its_limit_is_named_since_it_would_shorten_the_interval(shop, change, said) -> None:
    drains = [row | {"colour_rating": 2, "debris_rating": 2} for row in simple_log(2, 6)]
    drains[1] = drains[1] | change
    outcome = shop(drains=drains, page=True)
    assert outcome.status == 3
    assert ("Held back, though perhaps past the limit: U01." in outcome.page()) is said


def test_a_copy_of_a_drain_past_its_limit_is_not_named(shop) -> None:
    drains = simple_log(2, 6)
    drains[1] = drains[1] | {"colour_rating": 5}
    outcome = shop(drains=[*drains, drains[1]], page=True)
    assert outcome.status == 3
    assert "perhaps past the limit" not in outcome.page()


def plan_of_signs(shop, drains: list[dict], units: int) -> Outcome:
    return shop(drains=drains, units=register(units), used=usage(units), booked=bookings(units), page=True)


def inspected(outcome: Outcome) -> set[tuple[str, str]]:
    return {(row["unit_id"], row["signs"]) for row in outcome.record()["inspect_now"]}


def test_a_blank_sign_does_not_clear_an_earlier_one_where_no_is_written(shop) -> None:
    signs = ("milky", "leak", "burnt")
    drains = [row | dict.fromkeys(signs, "no") for row in simple_log(3, 4)]
    for unit, sign in enumerate(signs):
        last = 4 * unit
        drains[last + 1] = drains[last + 1] | {sign: "yes"}  # the last but one of the unit
        drains[last] = drains[last] | {sign: ""}
    outcome = plan_of_signs(shop, drains, 3)
    assert inspected(outcome) == {("U01", "milky"), ("U02", "leak"), ("U03", "burnt")}
    assert "Inspect 3 units now" in outcome.page()


def with_last_drains(rows: list[dict], changes: list[dict], drains: int = 4) -> list[dict]:
    """Rows of units of so many drains, newest first, the last drain of each with its change."""
    return [row | (changes[at // drains] if at % drains == 0 else {}) for at, row in enumerate(rows)]


def test_a_sign_on_a_held_back_drain_still_calls_for_a_look(shop) -> None:
    held_back = [{"leak": "yes", "oil_hours": -3}, {"leak": "behind it"}, {"leak": "at the top"}]
    drains = with_last_drains([row | {"leak": "no"} for row in simple_log(4, 4)], [*held_back, {}])
    outcome = plan_of_signs(shop, drains, 4)
    assert outcome.status == 3
    assert {unit for unit, _ in inspected(outcome)} == {"U01", "U02", "U03"}
    assert "Inspect 3 units now" in outcome.page()


def test_flakes_on_a_held_back_drain_call_for_a_look(shop) -> None:
    held_back = [
        {"oil_hours": -3},
        {"rider": ""},
        {"colour_rating": 7},
        {"debris_rating": "5!"},
        {"debris_rating": "flakes all over"},
        {"drained_on": "last week"},
    ]
    drains = [row | {"debris_rating": min(row["debris_rating"], 4)} for row in simple_log(7, 4)]
    drains = with_last_drains(drains, [*({"debris_rating": 5} | change for change in held_back), {}])
    outcome = plan_of_signs(shop, drains, 7)
    assert outcome.status == 3
    assert {unit for unit, _ in inspected(outcome)} == {f"U0{unit}" for unit in range(1, 7)}
    assert all("flakes" in signs for _, signs in inspected(outcome))
    assert "Inspect 6 units now" in outcome.page()


def test_a_limit_in_a_held_back_row_of_the_register_still_caps(shop) -> None:
    units = register(4)
    units[0] = units[0] | {"max_interval_h": 4, "fill_ml": -5}
    table = shop(units=units).table("next_service")
    assert table.filter(pl.col("unit_id") == "U01")["interval_h"][0] <= 4


def test_usage_rows_held_back_for_their_hours_do_not_lose_the_rides(shop, known) -> None:
    used = usage(4)
    used[3] = used[3] | {"hours": "-2"}  # of U01
    used[12] = used[12] | {"hours": "many"}  # of U02
    never_later(known, shop(used=used))


def test_a_booking_held_back_for_its_hours_does_not_lose_the_event(shop, known) -> None:
    booked = bookings(4)
    booked[0] = booked[0] | {"hours": "-4"}
    never_later(known, shop(booked=booked))


COLUMNS = {
    "spring_hours": lambda at: 3.0 + 9.0 * (at % 8),
    "drained_ml": lambda at: 500 - 20 * (at % 3),
    "settle_hours": lambda _: 0.167,
    "surface": lambda _: "sand",
    "rated_by": lambda _: "KB",
    "site": lambda _: "bench",
}


def with_every_column() -> list[dict]:
    return [
        row | {"filled_ml": 520} | {name: value(at) for name, value in COLUMNS.items()}
        for at, row in enumerate(simple_log(4, 8))
    ]


@pytest.fixture(scope="module")
def every_column(tmp_path_factory) -> Outcome:
    """The shop with every column that a fill's conditions are read from."""
    return plan_of_shop(tmp_path_factory.mktemp("full"), drains=with_every_column())


@pytest.mark.parametrize("column", COLUMNS)
def test_blanking_a_column_of_the_last_drain(shop, every_column, column: str) -> None:
    """What a fill went through, unknown for each unit's last drain: the present fill counts as the dirtier case."""
    blanked = with_last_drains(with_every_column(), [{column: ""}] * 4, drains=8)
    step = 0.5
    kept = every_column.table("next_service").select("unit_id", "interval_h")
    joined = kept.join(shop(drains=blanked).table("next_service").select("unit_id", now="interval_h"), on="unit_id")
    assert joined.height == 4
    assert (joined["now"] <= joined["interval_h"] + step).all()
