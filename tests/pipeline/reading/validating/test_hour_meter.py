"""Hours from the meter: a difference only where nothing can lie in between."""

from datetime import date, timedelta

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

DAYS = [(date(2026, 1, 1) + timedelta(days=10 * n)).isoformat() for n in range(12)]


def meters(*readings: str | None, **columns: list[str | None]) -> list[dict[str, str | None]]:
    return [
        {"oil_hours": None, "meter_hours": reading, "drained_on": day, "unit_id": "F07"}
        | {name: cells[i] for name, cells in columns.items()}
        for i, (reading, day) in enumerate(zip(readings, DAYS, strict=False))
    ]


def hours(log) -> list[float | None]:
    return log.accepted["drains"].sort("line")["oil_hours"].to_list()


def test_differences_by_date_with_an_unknown_first(check, messages) -> None:
    rows = meters("100", "112.5", "130")
    log = check(rows[2], rows[0], rows[1])
    assert hours(log) == [17.5, None, 12.5]
    assert log.accepted["drains"].sort("line")["hours_basis"].to_list() == ["meter", "unknown", "meter"]
    assert messages(log, "meter_hours") == ["hours on this oil are not known: first reading of this unit's meter"]


def test_a_reset_is_noted_and_the_sum_goes_on(check, messages) -> None:
    log = check(*meters("800", "812", "5", "15"))
    assert hours(log) == [None, 12.0, None, 10.0]
    assert any("runs backwards, 5.0 h after 812.0 h: taken as a reset" in text for text in messages(log))


def test_a_reset_hidden_by_a_top_up_is_still_a_reset(check) -> None:
    log = check(*meters("100", "5", "120", service_kind=[None, "top-up", None]))
    assert hours(log) == [None, None, None]


def test_a_top_up_does_not_reset_the_oil_clock(check) -> None:
    log = check(*meters("100", "105", "120", service_kind=[None, "top-up", None]))
    assert hours(log) == [None, None, 20.0]


@pytest.mark.parametrize("change", [{"colour_rating": "6"}, {"rider": None}, {"leak": "perhaps"}])
def test_a_drain_held_back_still_counts_as_a_drain(check, change: dict[str, str | None]) -> None:
    rows = meters("100", "112", "130")
    rows[1] |= change
    assert hours(check(*rows)) == [None, 18.0]


def test_without_a_reading_at_the_drain_before_the_hours_are_unknown(check, messages) -> None:
    rows = meters("100", None, "130", "140")
    rows[1]["oil_hours"] = "12"
    log = check(*rows)
    assert hours(log) == [None, 12.0, None, 10.0]
    assert any("the drain before, on line 3, has no meter reading" in text for text in messages(log))


def test_a_drain_without_date_never_makes_a_fill_longer(check) -> None:
    rows = meters("100", "112", "130", "150")
    rows[1]["drained_on"] = "sometime"
    assert hours(check(*rows)) == [None, None, 20.0], "the loose reading of 112 lies between 100 and 130"
    rows[1]["meter_hours"] = None
    assert hours(check(*rows)) == [None, None, None], "a loose drain without reading may lie anywhere"


def test_a_drain_that_names_no_unit_may_be_any_units(check) -> None:
    rows = [row | {"unit_id": "F07"} for row in meters("100", "112", "130", "150")]
    rows[1]["unit_id"] = None
    assert hours(check(*rows)) == [None, None, 20.0]
    other = [row | {"unit_id": "F08"} for row in meters("500", "510", "520", "530")]
    found = check(*rows, *other).accepted["drains"].filter(pl.col("unit_key") == "F08")
    assert found["oil_hours"].to_list() == [None, 10.0, 10.0, 10.0], "a reading of 112 h is none of F08's"


def test_no_hours_between_two_drains_is_held_back(check) -> None:
    log = check(*meters("100", "100"))
    assert log.held_back["reason"].to_list() == ["shows no hours since the drain on line 2"]


def test_more_hours_than_a_fill_can_have_is_held_back(check) -> None:
    log = check(*meters("100", "2200"))
    assert log.held_back["reason"].to_list() == ["shows 2100.0 h since the drain on line 2: over 2000 h"]


@pytest.mark.parametrize(
    ("typed", "asked"), [("12", False), ("13", False), ("13.1", False), ("14", True), ("8", True)]
)
def test_typed_hours_off_the_meter_are_asked_about_and_kept(check, messages, typed: str, asked: bool) -> None:
    """More than 1 h and more than 10 % off 12 h."""
    rows = meters("100", "112")
    rows[0]["oil_hours"], rows[1]["oil_hours"] = "10", typed
    log = check(*rows)
    assert hours(log) == [10.0, float(typed)]
    expected = (abs(float(typed) - 12) > 1) and (abs(float(typed) - 12) > 1.2)
    assert expected == asked
    assert any("but the meter shows" in text for text in messages(log, "oil_hours")) == asked


readings = st.lists(st.floats(1, 60).map(lambda h: round(h, 1)), min_size=2, max_size=8)


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(readings, st.data())
def test_losing_rows_or_cells_never_makes_a_fill_longer(check, steps: list[float], data: st.DataObject) -> None:
    """Whatever meter cell or date goes missing, no fill gets more hours than it had."""
    totals = [round(100 + sum(steps[: i + 1]), 1) for i in range(len(steps))]
    rows = meters(*[str(total) for total in totals])
    blanked = [dict(row) for row in rows]
    for row in blanked:
        for cell in ("meter_hours", "drained_on", "unit_id"):
            if data.draw(st.booleans(), label=cell):
                row[cell] = None
    known = dict(check(*rows).accepted["drains"].select("line", "oil_hours").iter_rows())
    for line, found in check(*blanked).accepted["drains"].select("line", "oil_hours").iter_rows():
        assert found is None or (known[line] is not None and found <= known[line] + 1e-9)
