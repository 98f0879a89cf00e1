"""A second line of a header with the units is read with the header."""

import pytest

from draincurve.pipeline.reading.cleaning.row_kinds import UNIT_LINE

EMPTY = dict.fromkeys(("unit_id", "drained_on", "oil_grade", "colour_rating", "spring_type", "rider"))
GOOD = {"Hours": "750", "Filled": "0.48", "drained_on": "2026-03-04"}


def test_units_below_the_header_count_for_its_columns(check) -> None:
    line = EMPTY | {
        "Hours": "min",
        "Filled": "(l)",
        "colour_rating": "1-5",
        "debris_rating": None,
        "settle_hours": None,
    }
    log = check(line, GOOD, GOOD | {"drained_on": "2026-04-04"}, without=("oil_hours",))
    assert log.reasons["message"].to_list() == [UNIT_LINE]
    assert log.faulty_count == 0
    assert log.accepted["drains"]["oil_hours"].to_list() == [12.5, 12.5]
    assert log.accepted["drains"]["filled_ml"].to_list() == [480.0, 480.0]


def test_a_form_of_dates_below_the_header_settles_their_order(check) -> None:
    line = EMPTY | {"drained_on": "mm/dd/yy", "Hours": "h", "debris_rating": None, "settle_hours": None}
    rows = [GOOD | {"drained_on": day, "Hours": "12", "Filled": None} for day in ("03/04/26", "04/05/26")]
    log = check(line, *rows, without=("oil_hours",))
    assert [str(day) for day in log.accepted["drains"]["drained_on"]] == ["2026-03-04", "2026-04-05"]


@pytest.mark.parametrize("change", [{"rider": "Brask"}, {"unit_id": "F01"}, {"Hours": "12"}, {"Filled": None}])
def test_any_other_first_row_is_a_row(check, change: dict) -> None:
    line = EMPTY | {"Hours": "min", "Filled": "l", "debris_rating": None, "settle_hours": None} | change
    log = check(line, GOOD | {"Hours": "12"}, without=("oil_hours",))
    assert UNIT_LINE not in log.reasons["message"].to_list()
    assert log.accepted["drains"]["oil_hours"].to_list() == [12.0]
