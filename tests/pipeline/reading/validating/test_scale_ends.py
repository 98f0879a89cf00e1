"""Levels past 5 put a whole column in question; a scale that may end at 3 is named."""

import tomllib

import pytest

from draincurve.schemas.settings import Settings

PAST_FIVE = ("3", "7", "4", "9", "5", "6", "2", "8", "10", "1")
QUESTION = "is it another scale?"


def rows(ratings, **more: str | None) -> list[dict]:
    days = (f"{2020 + at // 250}-{at % 250 // 25 + 1:02d}-{at % 25 + 1:02d}" for at in range(len(ratings)))
    return [{"drained_on": day, "colour_rating": rating} | more for day, rating in zip(days, ratings, strict=True)]


def asked(log) -> list[str]:
    return [text for text in log.asked["message"] if QUESTION in text]


def test_no_rating_of_a_scale_past_five_is_known_until_it_is_mapped(check) -> None:
    log = check(*rows(PAST_FIVE))
    [message] = asked(log)
    assert message.startswith("over 5 in 5 rows: ")
    assert log.held_back_count == 5
    assert log.accepted["drains"]["colour_low"].null_count() == 5, "their debris is rated, so they are kept"
    words = tomllib.loads(log.asked.filter(column="colour_rating")["setting"].item())["words"]["colour_rating"]
    assert list(words) == ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"]
    mapped = {level: str((int(level) + 1) // 2) for level in words}
    answered = check(*rows(PAST_FIVE), settings=Settings(words={"colour_rating": mapped}))
    assert (asked(answered), answered.held_back_count) == ([], 0)
    assert answered.accepted["drains"].sort("line")["colour_low"].to_list() == [2, 4, 2, 5, 3, 3, 1, 4, 5, 1]


def test_rows_rated_on_such_a_scale_alone_say_so(check) -> None:
    log = check(*rows(PAST_FIVE, debris_rating=None))
    reasons = log.reasons.filter(column="colour_rating").sort("line")["message"].to_list()
    assert reasons[0].startswith("is on a scale that is asked about")
    assert reasons[1].startswith("is not on the scale")
    assert not any("is empty" in reason for reason in reasons)


@pytest.mark.parametrize(
    "ratings",
    [
        ("1", "2", "6", "7", "3"),
        ["1", "2", "3"] * 30 + ["6", "7", "8"],
        ("1", "44", "33", "7", "8", "6"),
        ("1", "5", "2"),
    ],
)
def test_slips_are_slips(check, ratings) -> None:
    assert asked(check(*rows(ratings))) == []


def test_ratings_of_ten_are_asked_about_as_typed(check) -> None:
    log = check(*rows([f"{level}/10" for level in PAST_FIVE]))
    assert len(asked(log)) == 1
    assert '"7/10" = ""' in log.asked.filter(column="colour_rating")["setting"].item()


@pytest.mark.parametrize("ratings", [("1", "2", "3") * 40, ("1", "2", "3") * 15, ("1", *["2"] * 9, "3") * 40])
def test_a_log_without_a_four_is_asked_whether_the_scale_ends_at_three(check, ratings) -> None:
    said = f"no colour rating over 3 in {len(ratings)} rows: does the scale end at 3?"
    found = check(*rows(ratings)).asked
    question = found.filter(found["message"].str.starts_with(said))
    assert question["column"].to_list() == ["colour_rating"]
    answer = Settings(words=tomllib.loads(question["setting"].item())["words"])
    assert not check(*rows(ratings), settings=answer).asked["message"].str.contains("rating over 3").any()


def test_few_threes_a_four_and_a_lower_limit_ask_nothing_about_the_end(check) -> None:
    three, lower = ("1", "2", "3") * 15, Settings().limits
    for log in (
        check(*rows(three[:-3])),
        check(*rows((*three[:-1], "4"))),
        check(*rows(("2", "3") * 60)),
        check(*rows(("1", *["2"] * 9, "3") * 39)),
        check(*rows(three), settings=Settings(limits=type(lower)({"colour": 3, "debris": 4}))),
    ):
        assert not log.asked["message"].str.contains("rating over 3").any()


def test_digits_of_another_script_are_levels(check) -> None:
    log = check(*rows(["٢", "３", "3", "١"] * 3))
    assert log.accepted["drains"].sort("line")["colour_low"].to_list()[:4] == [2, 3, 3, 1]


def test_levels_past_five_by_one_rater_put_that_rater_in_question(check) -> None:
    by = ("Tevik", "Brask", "Ollin", None)
    raters = [by[at % 4] for at in range(40)]
    ratings = ["7" if at % 12 == 0 else str(at % 5 + 1) for at in range(40)]
    typed = [row | {"rated_by": rater} for row, rater in zip(rows(ratings), raters, strict=True)]
    typed[4] |= {"confirmed": "yes"}
    log = check(*typed)
    [message] = asked(log)
    assert message.startswith("over 5 in 4 rows, all by one rater: ")
    assert "'Tevik'" in message
    drains = log.accepted["drains"].sort("line")
    known = drains.filter(drains["colour_low"].is_not_null())
    assert set(known["rated_by"]) == {"Brask", "Ollin", "Tevik"}
    assert known.filter(rated_by="Tevik")["line"].to_list() == [6], "the one that is confirmed"
    assert log.held_back["value"].to_list() == ["7"] * 4


def test_a_word_of_the_shop_is_no_answer_to_levels_past_five(check) -> None:
    settings = Settings(words={"colour_rating": {"tea": "3"}})
    assert len(asked(check(*rows(PAST_FIVE), settings=settings))) == 1
