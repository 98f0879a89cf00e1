"""Names that stand for the rows below them, and legends of colours, are asked about."""

import pytest

ROWS = [{"drained_on": f"2026-03-{day:02d}"} for day in range(1, 9)]


def of(log, words: str) -> list[tuple]:
    return [(c, v) for c, v, m in log.asked.select("column", "value", "message").rows() if words in m]


@pytest.mark.parametrize("column", ["unit_id", "spring_type", "oil_grade", "rider"])
def test_a_name_may_stand_for_the_rows_below_it(check, column: str) -> None:
    rows = [row | ({} if at % 4 == 0 else {column: None}) for at, row in enumerate(ROWS)]
    log = check(*rows)
    assert of(log, "does a name stand for the rows below it?") == [(column, None)]
    assert log.held_back_count == 6


@pytest.mark.parametrize("blank", [range(3, 6), range(8), [0, 2, 4, 6, 7]])
def test_a_few_blanks_or_none_above_them_are_just_blanks(check, blank) -> None:
    rows = [row | ({"rider": None} if at in blank else {}) for at, row in enumerate(ROWS)]
    assert of(check(*rows), "does a name stand") == []


@pytest.mark.parametrize(
    "legend", ["red = leaking, do not ride", "Gelb: nachsehen", "rouge : fuite", "green rows = done"]
)
def test_a_legend_of_colours_is_asked_about(check, legend: str) -> None:
    line = dict.fromkeys(("oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider"))
    log = check(*ROWS, line | {"unit_id": legend, "drained_on": None, "settle_hours": None})
    assert of(log, "says what colours mean") == [(None, legend)]


@pytest.mark.parametrize(
    "title",
    [
        *("all times in minutes", "Volumes in cl", "hours are meter readings", "Zeiten in Min."),
        *("Heures en minutes", "Füllmengen in Liter", "Stunden: Zählerstände"),
    ],
)
def test_a_title_with_a_unit_is_asked_about(check, title: str) -> None:
    line = dict.fromkeys(("oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider"))
    log = check(*ROWS, line | {"unit_id": title, "drained_on": None, "settle_hours": None})
    assert of(log, "says how cells are measured") == [(None, title)]


@pytest.mark.parametrize(
    ("title", "turned"), [("Skala: 5 = sauber, 1 = schwarz", True), ("1 = clean, 5 = black", False)]
)
def test_a_title_may_say_that_the_scale_is_turned(check, title: str, turned: bool) -> None:
    line = dict.fromkeys(("oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider"))
    log = check(*ROWS, line | {"unit_id": title, "drained_on": None, "settle_hours": None})
    asked = log.asked["message"].str.contains("have a header or title that says so: is 5 the clean end?")
    assert asked.any() is turned
    assert log.accepted["drains"]["colour_in_question"].all() is turned


@pytest.mark.parametrize("title", ["Team red", "March 2026", "Blue leg", "Redwood: forks", "Times of 2026, in May"])
def test_other_titles_explain_no_colours(check, title: str) -> None:
    line = dict.fromkeys(("oil_hours", "oil_grade", "colour_rating", "debris_rating", "spring_type", "rider"))
    log = check(*ROWS, line | {"unit_id": title, "drained_on": None, "settle_hours": None})
    assert of(log, "says ") == []
