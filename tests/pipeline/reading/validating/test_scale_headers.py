"""A header that names another scale, or says which end of it is clean, is not passed over."""

import pytest

from draincurve.pipeline.reading.validating.scale_headers import says_turned
from draincurve.schemas.settings import Settings

RATINGS = ("1", "2", "3", "2", "1", "3")


def rows(header: str) -> list[dict]:
    """Drains whose colour is under this header."""
    return [{"drained_on": f"2026-0{month}-04", header: rating} for month, rating in enumerate(RATINGS, 1)]


@pytest.mark.parametrize("header", ["colour (0-3)", "Colour (1-10)", "colour (1 to 3)", "Colour /10", "colour 1-3"])
def test_ratings_under_another_scale_are_not_known_until_they_are_mapped(check, header: str) -> None:
    log = check(*rows(header), without=("colour_rating",))
    [message] = [text for text in log.asked["message"] if "its header names the scale" in text]
    assert "until then they are not known" in message
    assert log.accepted["drains"]["colour_low"].null_count() == 6
    mapped = Settings(words={"colour_rating": {"1": "1-2", "2": "3", "3": "4-5"}})
    answered = check(*rows(header), without=("colour_rating",), settings=mapped)
    assert not any("its header names" in text for text in answered.asked["message"])
    assert answered.accepted["drains"]["colour_high"].to_list() == [2, 3, 5, 3, 2, 5]


@pytest.mark.parametrize("header", ["colour (1-5)", "colour (1 to 5)", "colour", "Colour 1-5", "colour /5"])
def test_the_scale_that_is_read_asks_nothing(check, header: str) -> None:
    log = check(*rows(header), without=("colour_rating",))
    assert not any("header" in text for text in log.asked["message"])
    assert log.accepted["drains"]["colour_low"].to_list() == [1, 2, 3, 2, 1, 3]


@pytest.mark.parametrize("header", ["colour (1=dirty 5=clean)", "colour (5 is best)", "colour (5-1)"])
def test_a_header_may_say_that_the_scale_runs_the_other_way(check, header: str) -> None:
    log = check(*rows(header), without=("colour_rating",))
    assert any("have a header or title that says so: is 5 the clean end?" in text for text in log.asked["message"])
    assert log.accepted["drains"]["colour_in_question"].all()
    answered = check(*rows(header), without=("colour_rating",), settings=Settings(clean_end={"colour_rating": 1}))
    assert not answered.accepted["drains"]["colour_in_question"].any()


@pytest.mark.parametrize("header", ["colour 1 clean 5 black", "colour (5 = black)", "Farbe 1 = klar", "15 good"])
def test_the_usual_way_is_the_usual_way(header: str) -> None:
    assert not says_turned(header)
