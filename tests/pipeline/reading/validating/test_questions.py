"""What is kept but asked about, and what is held back between columns."""

import polars as pl
import pytest


@pytest.mark.parametrize(
    ("change", "column", "wording"),
    [
        ({"oil_hours": "0.2"}, "oil_hours", "hours under 0.25 h"),
        ({"oil_hours": "201"}, "oil_hours", "hours over 200 h"),
        ({"filled_ml": "500", "drained_ml": "390"}, "drained_ml", "little oil came out: 78 %"),
        ({"filled_ml": "500", "drained_ml": "520"}, "drained_ml", "more oil came out than went in: 104 %"),
        ({"spring_hours": "11"}, "spring_hours", "hours on the spring under those on the oil"),
        ({"milky": "yes"}, "milky", "inspect now"),
        ({"burnt": "x"}, "burnt", "inspect now"),
        ({"leak": "1"}, "leak", "inspect now"),
    ],
)
def test_kept_and_asked(check, messages, change: dict[str, str], column: str, wording: str) -> None:
    log = check(change)
    assert log.held_back.is_empty()
    assert wording in messages(log, column)[-1]


@pytest.mark.parametrize(
    "change",
    [
        {"oil_hours": "0.25"},
        {"oil_hours": "200"},
        {"filled_ml": "500", "drained_ml": "400"},
        {"filled_ml": "500", "drained_ml": "515"},
        {"spring_hours": "12"},
        {"milky": "no", "burnt": "no", "leak": "-"},
    ],
)
def test_on_the_limit_nothing_is_asked(check, messages, change: dict[str, str]) -> None:
    log = check(change)
    assert log.held_back.is_empty()
    assert messages(log) == []


NOT_CHANGED = (
    "nur Kontrolle, Öl wieder eingefüllt",
    "looked at it, poured back",
    "Huile remise",
    "only checked",
    "same oil as last time, only topped",
    "Öl nur nachgefüllt",
    "did not change oil",
)


def test_oil_that_may_have_gone_back_in_is_asked_about(check, messages) -> None:
    rows = [{"unit_id": f"F{unit}", "note": note} for unit, note in enumerate(NOT_CHANGED, 11)]
    asked = "did the old oil go back in? Then write top-up under service_kind; now it counts as a change of oil"
    assert messages(check(*rows), "note") == [asked] * len(NOT_CHANGED)
    assert asked not in messages(check(*(row | {"service_kind": "top-up"} for row in rows)))
    assert messages(check({"note": "same oil as before, fed back to the rider"})) == []


def test_signs_are_shown_even_where_the_row_is_held_back(check, messages) -> None:
    log = check({"leak": "yes", "colour_rating": "6"}, {"oil_hours": "300", "rider": None})
    assert log.held_back.height == 2
    assert messages(log)[1:] == ["inspect now, whatever the interval"], "after that no drain can be used"


def test_a_sign_before_a_later_drain_of_its_unit_may_be_cleared(check, messages) -> None:
    first, last = {"drained_on": "2026-04-01", "leak": "yes"}, {"drained_on": "2026-05-01", "leak": "no"}
    plain = "inspect now, whatever the interval"
    assert messages(check(first, last), "leak") == [f"{plain}, unless cleared since"]
    assert messages(check(last | {"leak": "yes"}, first | {"leak": "no"}), "leak") == [plain]
    assert messages(check(first, last | {"unit_id": "F99"}), "leak") == [plain], "another unit's drain clears nothing"
    undated = messages(check(first | {"drained_on": "soon"}, last), "leak")
    assert undated == [plain], "it may be the later one"


def test_assumed_settling_is_counted(check, messages) -> None:
    log = check({}, {"settle_hours": None, "drained_on": "2026-05-01"})
    assert messages(log) == ["1 of 2 rated drains name no settling time: the shop's standard of 0.167 h is assumed"]


def test_every_rating_the_same_is_asked_about(check, messages) -> None:
    rows = [
        {"drained_on": f"2026-0{n}-01", "colour_rating": "1", "debris_rating": str(n % 3 + 1), "rated_by": "XY"}
        for n in range(1, 6)
    ]
    assert messages(check(*rows), "colour_rating") == ["all 5 ratings are 1: does anyone look?"]
    assert messages(check(*rows[:4]), "colour_rating") == []
    rows.append({"drained_on": "2026-06-01", "colour_rating": "3", "rated_by": "ZZ"})
    assert messages(check(*rows), "colour_rating") == ["all 5 ratings by XY are 1: are they looked at?"]


def test_usage_over_a_day_is_asked_about_and_kept(check, messages) -> None:
    log = check({}, usage=[{"unit_id": "F07", "date": "2026-05-05", "hours": "25"}])
    assert log.accepted["usage"].height == 1
    assert messages(log, "hours") == ["is over 24 h: is that right?"]


def test_a_booking_without_hours_is_kept_as_unknown(check, messages) -> None:
    log = check({}, bookings=[{"unit_id": "F07", "date": "2027-05-05", "hours": None, "event": "spring race"}])
    assert log.accepted["bookings"].select("hours", "event").rows() == [(None, "spring race")]
    assert "Unknown hours count as many" in messages(log, "hours")[0]


def test_a_riding_day_without_hours_is_kept_as_unknown(check, messages) -> None:
    log = check({}, usage=[{"unit_id": "F07", "date": "2026-05-05", "hours": None}])
    assert log.accepted["usage"]["hours"].to_list() == [None]
    assert "Unknown hours count as many" in messages(log, "hours")[0]


@pytest.mark.parametrize(
    ("cells", "sign", "value"),
    [
        ({"milky": "yes"}, "milky", "yes"),
        ({"note": "Öl milchig"}, "milky", "Öl milchig"),
        ({"note": "leaking seal", "leak": "yes"}, "leak", "yes"),
        ({"note": "smells burnt"}, "burnt", "smells burnt"),
        ({"note": "milky oil", "milky": "no"}, "milky", "milky oil"),
    ],
)
def test_a_sign_shows_where_it_was_told(check, cells: dict[str, str], sign: str, value: str) -> None:
    asked = check(cells).remarks.filter((pl.col("kind") == "asked") & (pl.col("column") == sign))
    assert asked.select("value", "message").rows() == [(value, "inspect now, whatever the interval")]
