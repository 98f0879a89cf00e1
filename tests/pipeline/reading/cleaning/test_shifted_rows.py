"""A row whose cells are shifted and still fit the header is held back."""

import pytest

from draincurve.schemas.settings import Settings

DAYS = [{"drained_on": f"2026-0{month}-04", "rider": "Brask", "spring_type": "Plain 46"} for month in range(1, 6)]
SHIFTED = {"drained_on": "2026-06-04", "colour_rating": None, "spring_type": "3", "rider": "Plain 46"}


def test_a_spring_under_the_rider_is_held_back(check) -> None:
    log = check(*DAYS, SHIFTED)
    assert log.held_back.select("line", "column", "value").rows() == [(7, "rider", "Plain 46")]
    assert "is a spring in other rows" in log.held_back["reason"].item()
    assert set(log.accepted["drains"]["spring_type"]) == {"Plain 46"}


@pytest.mark.parametrize(
    "row",
    [
        {"rider": "Plain 46"},  # the spring is where it belongs
        {"oil_grade": "Brask"},  # and so is the rider
        {"spring_type": "3"},
    ],
)
def test_a_name_beside_the_usual_one_of_its_own_column_is_a_name(check, row) -> None:
    assert (
        check(*DAYS, {"drained_on": "2026-06-04", "rider": "Brask", "spring_type": "Plain 46"} | row).held_back_count
        == 0
    )


def test_the_settings_may_have_the_name(check) -> None:
    settings = Settings(words={"rider": {"plain 46": "Plain 46"}})
    assert check(*DAYS, SHIFTED, settings=settings).held_back_count == 0
