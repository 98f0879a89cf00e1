"""Units of which no drain can be used, and those of side tables that neither the drains nor the register has."""

import polars as pl
import pytest

from draincurve.pipeline.reading.validating.unknown_units import MOST_ASKED

ROWS = {
    "usage": {"date": "2026-05-01", "hours": "2"},
    "bookings": {"date": "2026-12-01", "hours": "2"},
    "measurements": {"measured_on": "2026-03-05", "quantity": "iron", "value": "12", "unit": "mg/kg"},
    "parts": {"part": "seals", "fitted_on": "2026-05-01", "max_hours": "40"},
}


def asked(log) -> list[tuple]:
    return log.asked.filter(pl.col("column") == "unit_id").select("source", "line", "value", "message").rows()


@pytest.mark.parametrize("table", ROWS)
def test_a_unit_that_nobody_knows_is_asked_about_once_with_its_rows(check, table):
    mine = ROWS[table]
    second = {"part": "bushes", "value": "14", "hours": "3"}
    other = mine | {name: cell for name, cell in second.items() if name in mine}
    rows = [{"unit_id": "F07"} | mine, {"unit_id": "Ghost"} | mine, {"unit_id": "ghost"} | other]
    log = check({}, **{table: rows})
    said = "is no unit of the drains or the register, so its 2 rows here count for nothing: correct the name, or add "
    assert asked(log) == [(f"{table}.csv", 3, "Ghost", f"{said}the unit")]
    assert log.asked_rows == 1
    assert log.accepted[table].height == 3
    one = check({}, **{table: rows[:2]})
    assert "so this row counts for nothing" in asked(one)[0][-1]


def test_the_register_makes_a_unit_known_and_a_row_held_back_does_not(check):
    parts = [{"unit_id": unit} | ROWS["parts"] for unit in ("F07", "Newcomer", "Heldback")]
    log = check({}, {"unit_id": "Heldback", "oil_hours": "-3"}, parts=parts, units=[{"unit_id": "Newcomer"}])
    assert [(source, value) for source, _, value, _ in asked(log)] == [
        ("drains.csv", "Heldback"),
        ("parts.csv", "Heldback"),
    ]


def test_a_name_that_may_be_a_known_units_is_asked_about_as_such(check):
    log = check({}, usage=[{"unit_id": "FO7"} | ROWS["usage"]])
    (question,) = asked(log)
    assert "one? They count as two until you answer" in question[-1]


def test_rows_of_a_kind_and_of_no_unit_are_no_units(check):
    kind = {"unit_id": None, "unit_kind": "leg", "part": "seals", "max_hours": "40"}
    assert asked(check({}, parts=[kind])) == []


def test_of_very_many_units_the_first_are_asked_about_and_the_others_are_counted(check):
    rows = [{"unit_id": f"N{at}x{at}"} | ROWS["usage"] for at in range(100, 102 + MOST_ASKED)]
    found = asked(check({}, usage=[*rows, rows[-1] | {"date": "2026-05-02"}]))
    assert len(found) == MOST_ASKED + 1
    assert [message for *_, value, message in found if value is None] == [
        "2 more units of 3 rows are in neither the drains nor the register: add them"
    ]


def test_a_unit_all_of_whose_drains_are_held_back_is_asked_about(check):
    rows = [{"unit_id": "Lost", "debris_rating": "3-"}, {"unit_id": "lost", "oil_hours": "-3"}]
    log = check({}, {"unit_id": "F07", "oil_hours": "-2"}, *rows)
    said = (
        "none of its drains can be used (2 held back), so it has no interval: correct them; until then treat it as "
        "due"
    )
    assert asked(log) == [("drains.csv", None, "Lost", said)]
    assert asked(check({}, *rows, {"unit_id": "Lost", "drained_on": "2026-03-01"})) == []


def test_a_cell_of_two_units_is_no_unit_of_its_own_and_makes_none_known(check):
    units = [{"unit_id": "F07"}, {"unit_id": "F08"}, {"unit_id": "F07/F08", "drained_on": "2026-04-01"}]
    assert asked(check(*units)) == []
    lost = {"unit_id": "F08", "oil_hours": "-3"}
    ((_, _, unit, message),) = asked(check(units[0], lost, units[2]))
    assert unit == "F08"
    assert message.startswith("none of its drains can be used (2 held back)")


def test_a_total_is_no_unit(check):
    total = {"unit_id": "Total", "drained_on": None, "oil_hours": "120", "oil_grade": None, "spring_type": None}
    assert asked(check({}, total | {"rider": None, "colour_rating": None, "debris_rating": None})) == []


def test_of_very_many_units_without_drains_the_first_are_asked_about(check):
    rows = [{"unit_id": f"N{at}x{at}", "oil_hours": "-3"} for at in range(100, 102 + MOST_ASKED)]
    *named, (_, _, value, message) = asked(check({}, *rows))
    assert len(named) == MOST_ASKED
    assert (value, message) == (None, "no drain of 2 more units can be used: treat them as due")
