"""What is asked about is unknown to the models."""

import polars as pl

from draincurve.pipeline.describing.asked_values import (
    known_drains,
    other_interpretations,
    rows_of_unknown_rating,
    with_asked_ratings,
)

ROWS = {"unit_key": ["F1", "F1", "F2"], "oil_hours": [12.0, 750.0, 11.0]}


def test_hours_in_question_are_unknown_and_the_drain_remains() -> None:
    drains = pl.DataFrame(ROWS | {"hours_in_question": [False, True, False]})
    known = known_drains(drains)
    assert known["oil_hours"].to_list() == [12.0, None, 11.0]
    assert known["unit_key"].to_list() == ROWS["unit_key"]


def test_nothing_is_copied_where_nothing_is_asked() -> None:
    for drains in (pl.DataFrame(ROWS), pl.DataFrame(ROWS | {"hours_in_question": [False] * 3})):
        assert known_drains(drains) is drains


def test_volumes_and_spring_in_question_are_unknown() -> None:
    drains = pl.DataFrame(
        {
            "filled_ml": [485.0, 0.485],
            "drained_ml": [470.0, 0.47],
            "volumes_in_question": [False, True],
            "spring_hours": [3.0, 50.0],
            "spring_in_question": [True, False],
        }
    )
    known = known_drains(drains)
    assert known["filled_ml"].to_list() == [485.0, None]
    assert known["drained_ml"].to_list() == [470.0, None]
    assert known["spring_hours"].to_list() == [None, 50.0]


def rated(*rows: tuple[float, bool, float | None, int | None, int | None], scale: str = "") -> pl.DataFrame:
    """Drains of hours, whether these are in question, cautious hours, and the ratings of colour and debris."""
    names = ("oil_hours", "hours_in_question", "cautious_hours", "colour_low", "debris_low")
    drains = pl.DataFrame(list(rows), schema=list(names), orient="row")
    return drains.with_columns(
        pl.col("colour_low").alias("colour_high"),
        pl.col("debris_low").alias("debris_high"),
        *[pl.lit(name == scale).alias(f"{name}_in_question") for name in ("colour", "debris")],
    )


LIMITS = {"colour": 4, "debris": 4}


def test_where_no_rated_row_is_asked_about_there_is_no_other_interpretation() -> None:
    assert other_interpretations(rated((12.0, False, None, 5, 5)), LIMITS) == ()
    assert other_interpretations(rated((40.0, True, None, 5, 5)), LIMITS) == ()


def test_rows_asked_about_count_at_cautious_hours_or_as_entered() -> None:
    asked = (750.0, True, 12.5, 5, None), (0.5, True, 12.0, 1, None), (40.0, True, None, 3, None)
    (interpretation,) = other_interpretations(rated((12.0, False, None, 2, 2), *asked), LIMITS)
    assert interpretation.channels == ("colour",)
    assert interpretation.drains["oil_hours"].to_list() == [12.0, 12.5, 12.0, 40.0]
    assert interpretation.drains["colour_low"].to_list() == [2, 5, 1, 3]


def test_in_one_fit_with_the_others_only_dirty_ratings_count() -> None:
    asked = (750.0, True, 12.5, 5, 1), (0.5, True, 12.0, 1, 1), (40.0, True, None, 5, 5)
    drains = with_asked_ratings(known_drains(rated((12.0, False, None, 2, 2), *asked)), LIMITS)
    assert drains["oil_hours"].to_list() == [12.0, 12.5, None, None]
    assert drains["colour_low"].to_list() == [2, 5, None, None]
    assert drains["debris_low"].to_list() == [2, None, None, None]


def test_where_no_other_hours_are_known_clean_ratings_do_not_count() -> None:
    (interpretation,) = other_interpretations(rated((3.0, True, 3.0, 5, 1), (2.5, True, 2.5, 1, 1)), LIMITS)
    assert interpretation.drains["colour_low"].to_list() == [5, None]
    assert interpretation.drains["oil_hours"].to_list() == [3.0, None]


def test_a_scale_in_question_is_interpreted_both_ways_and_known_in_neither() -> None:
    drains = rated((12.0, False, None, 2, 1), (9.0, False, None, 5, 3), scale="colour")
    assert known_drains(drains)["colour_low"].to_list() == [None, None]
    as_entered, reversed_scale = other_interpretations(drains, LIMITS)
    assert as_entered.channels == reversed_scale.channels == ("colour",)
    assert as_entered.drains["colour_low"].to_list() == [2, 5]
    assert reversed_scale.drains["colour_low"].to_list() == [4, 1]
    assert reversed_scale.drains["debris_low"].to_list() == [1, 3]


def of_two_riders() -> pl.DataFrame:
    drains = rated((12.0, False, None, 2, 1), (9.0, False, None, 5, 1), (8.0, False, None, 2, 1))
    more = {"unit_key": ["F1", "F1", "F2"], "rider": ["A", "A+B", "A+B"], "people_in_question": [False, True, True]}
    return pl.concat([drains, pl.DataFrame(more)], how="horizontal")


def test_rows_of_two_riders_are_known_in_neither_name_and_interpreted_in_both() -> None:
    drains = of_two_riders()
    assert known_drains(drains)["colour_low"].to_list() == [2, None, None]
    first, second = other_interpretations(drains, LIMITS, {"rider": {"A+B": ("A", "B")}})
    assert first.drains["rider"].to_list() == ["A", "A", "A"]
    assert second.drains["rider"].to_list() == ["A", "B", "B"]
    assert second.names == {"rider": {"A+B": "B"}}
    assert first.drains["colour_low"].to_list() == second.drains["colour_low"].to_list() == [2, 5, 2]
    assert set(first.channels) == {"colour", "debris"}


def test_in_one_fit_with_the_others_their_dirty_ratings_count() -> None:
    drains = with_asked_ratings(known_drains(of_two_riders(), whose_people=True), LIMITS)
    assert drains["colour_low"].to_list() == [2, 5, None]


def test_rows_of_two_riders_still_show_a_sign() -> None:
    assert rows_of_unknown_rating(of_two_riders())["unit_key"].to_list() == ["F1", "F2"]
    assert rows_of_unknown_rating(rated((9.0, False, None, 5, 1), scale="colour")).is_empty()
