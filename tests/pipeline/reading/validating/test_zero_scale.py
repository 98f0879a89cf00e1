"""A scale that may run from 0 to 4 is asked about, and its ratings count one level dirtier meanwhile."""

import tomllib

import pytest

from draincurve.schemas.checked_settings import filled
from draincurve.schemas.settings import Settings


def rows(*ratings: str) -> list[dict]:
    return [
        {"drained_on": f"2026-{at % 9 + 1:02d}-{at + 3:02d}", "colour_rating": one, "debris_rating": "5"}
        for at, one in enumerate(ratings)
    ]


def asked(log) -> list[str]:
    return [text for text in log.asked["message"] if "does the scale run from 0 to 4?" in text]


def test_zeros_without_a_five_make_all_ratings_dirtier_until_the_answer(check) -> None:
    log = check(*rows("0", "1", "0", "3", "2-3", "0", "4"))
    assert len(asked(log)) == 1
    levels = log.accepted["drains"].sort("line").select("colour_low", "colour_high").rows()
    assert levels == [(2, 2), (4, 4), (3, 4), (5, 5)]
    proposed = next(text for text in log.asked["setting"].drop_nulls() if "colour_rating" in text)
    settings = filled(Settings(), tomllib.loads(proposed), "shop")
    answered = check(*rows("0", "1", "0", "3", "2-3", "0", "4"), settings=settings)
    assert asked(answered) == []
    found = answered.accepted["drains"].sort("line").select("colour_low", "colour_high").rows()
    assert found == [(1, 1), (2, 2), (1, 1), (4, 4), (3, 4), (1, 1), (5, 5)]


@pytest.mark.parametrize("ratings", [("0", "1", "0", "3", "4"), ("0", "0", "0", "5", "2"), ("1", "2", "3", "4")])
def test_a_slip_or_a_five_asks_nothing(check, ratings) -> None:
    log = check(*rows(*ratings))
    assert asked(log) == []
    expected = [int(rating) for rating in ratings if rating != "0"]
    assert log.accepted["drains"].sort("line")["colour_low"].to_list() == expected


def test_the_settings_may_say_that_zero_is_not_rated(check) -> None:
    settings = Settings(words={"colour_rating": {"0": ""}})
    log = check(*rows("0", "1", "0", "3", "0", "4"), settings=settings)
    assert asked(log) == []
    assert log.accepted["drains"].drop_nulls("colour_low").sort("line")["colour_low"].to_list() == [1, 3, 4]


def test_the_other_channel_is_asked_about_too_where_it_has_no_five(check) -> None:
    debris = ("1", "2", "1", "3", "2", "1", "2")
    both = [
        row | {"debris_rating": rating}
        for row, rating in zip(rows("0", "1", "0", "3", "2", "0", "4"), debris, strict=True)
    ]
    log = check(*both)
    assert len(asked(log)) == 2
    levels = log.accepted["drains"].sort("line").select("colour_low", "debris_low").rows()
    assert levels == [(2, 3), (4, 4), (3, 3), (5, 3)], "one level dirtier"
    with_five = check(*both[:-1], both[-1] | {"debris_rating": "5"})
    assert len(asked(with_five)) == 1
    assert with_five.accepted["drains"].sort("line")["debris_low"].to_list() == [2, 3, 2, 5]
    answered = check(*both, settings=Settings(words={"debris_rating": {"0": ""}}))
    assert len(asked(answered)) == 1
