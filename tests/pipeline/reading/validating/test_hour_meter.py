"""Hours from the meter: a difference only where nothing can lie in between."""

from datetime import date, timedelta

import polars as pl
import pytest
from deep_runs import examples
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


def test_a_new_meter_begins_at_nought(check) -> None:
    assert hours(check(*meters("0", "12", "0", "4"))) == [None, 12.0, None, 4.0]
    assert hours(check(*meters("-1", "12", "20"))) == [None, 8.0], "a reading under nought is none"


def test_a_fill_may_be_short_and_as_long_as_any_that_may_be_typed(check) -> None:
    assert hours(check(*meters("100", "100.1", "2100.1"))) == [None, pytest.approx(0.1), pytest.approx(2000.0)]


def test_two_drains_of_one_day_come_in_the_order_of_their_readings(check) -> None:
    rows = meters("130", "112", "100")
    for row in rows:
        row["drained_on"] = "2026-03-01"
    assert hours(check(*rows)) == [18.0, 12.0, None]


def test_two_drains_of_one_day_among_others_and_in_two_units(check) -> None:
    """Line by line: the later reading of the day is typed first."""
    rows = meters("100", "130", "112", "150")
    rows[2]["drained_on"] = rows[1]["drained_on"]
    assert hours(check(*rows)) == [None, 18.0, 12.0, 20.0]
    lower = [row | {"unit_id": "F08"} for row in meters("10", "40", "22", "60")]
    lower[2]["drained_on"] = lower[1]["drained_on"]
    assert hours(check(*rows, *lower)) == [None, 18.0, 12.0, 20.0] * 2


def test_on_one_day_a_drain_without_reading_comes_last(check) -> None:
    """What came after it stays unknown; what was read that day does not."""
    rows = meters("100", None, "112", "130")
    rows[2]["drained_on"] = rows[1]["drained_on"]
    rows[1]["oil_hours"] = "3"
    assert hours(check(*rows)) == [None, 3.0, 12.0, None]


def test_a_typed_number_stands_and_is_named_as_such(check) -> None:
    rows = meters("100", "112", "130")
    rows[1]["oil_hours"] = "11.5"
    log = check(*rows)
    assert hours(log) == [None, 11.5, 18.0]
    assert log.accepted["drains"].sort("line")["hours_basis"].to_list() == ["unknown", "typed", "meter"]


def test_hours_that_cannot_be_read_are_not_taken_from_the_meter(check) -> None:
    """What was typed is wrong, so the row waits for its writer."""
    rows = meters("100", "112")
    rows[1]["oil_hours"] = "a few"
    assert check(*rows).held_back["line"].to_list() == [3]


def test_rows_held_back_keep_hours_from_the_meter_unless_typed_ones_cannot_be_read(check) -> None:
    rows = meters("100", "112", "130")
    rows[1] |= {"colour_rating": "6"}
    rows[2]["oil_hours"] = "a few"
    assert check(*rows).legible["drains"]["oil_hours"].to_list() == [12.0, None]


def test_units_have_meters_of_their_own(check) -> None:
    rows = meters("100", "112", "130") + [row | {"unit_id": "F08"} for row in meters("40", "45", "55")]
    assert hours(check(*rows)) == [None, 12.0, 18.0, None, 5.0, 10.0]


def test_a_reset_is_noted_and_the_sum_goes_on(check, messages) -> None:
    log = check(*meters("800", "812", "5", "15"))
    assert hours(log) == [None, 12.0, None, 10.0]
    assert messages(log, "meter_hours") == [
        "hours on this oil are not known: first reading of this unit's meter",
        "hours on this oil are not known: the meter was reset on this fill",
        "the meter runs backwards, 5.0 h after 812.0 h: taken as a reset",
    ]


def test_a_reset_hidden_by_a_top_up_is_still_a_reset(check, messages) -> None:
    log = check(*meters("100", "5", "120", service_kind=[None, "top-up", None]))
    assert hours(log) == [None, None, None]
    assert "the meter runs backwards, 5.0 h after 100.0 h: taken as a reset" in messages(log, "meter_hours")


def test_a_top_up_without_a_reading_is_no_reset(check, messages) -> None:
    log = check(*meters("100", None, "120", service_kind=[None, "top-up", None]))
    assert hours(log) == [None, None, 20.0]
    assert not any("backwards" in text for text in messages(log, "meter_hours"))


def test_a_top_up_does_not_reset_the_oil_clock(check) -> None:
    log = check(*meters("100", "105", "120", service_kind=[None, "top-up", None]))
    assert hours(log) == [None, None, 20.0]


@pytest.mark.parametrize(
    "change", [{"colour_rating": "6"}, {"rider": None}, {"leak": "see note"}, {"service_kind": "polish"}]
)
def test_a_drain_held_back_still_counts_as_a_drain(check, change: dict[str, str | None]) -> None:
    rows = meters("100", "112", "130")
    rows[1] |= change
    assert hours(check(*rows)) == [None, 18.0]


def test_without_a_reading_at_the_drain_before_the_hours_are_unknown(check, messages) -> None:
    rows = meters("100", None, "130", "140")
    rows[1]["oil_hours"] = "12"
    log = check(*rows)
    assert hours(log) == [None, 12.0, None, 10.0]
    assert "hours on this oil are not known: the drain before, on line 3, has no meter reading" in messages(log)


def test_a_drain_without_date_never_makes_a_fill_longer(check) -> None:
    rows = meters("100", "112", "130", "150")
    rows[1]["drained_on"] = "sometime"
    assert hours(check(*rows)) == [None, None, 20.0], "the loose reading of 112 lies between 100 and 130"
    rows[1]["meter_hours"] = None
    assert hours(check(*rows)) == [None, None, None], "a loose drain without reading may lie anywhere"


@pytest.mark.parametrize(("loose", "after"), [("100", 30.0), ("100.1", None), ("129.9", None), ("130", 30.0)])
def test_only_a_reading_in_between_parts_a_fill(check, loose: str, after: float | None) -> None:
    """A drain at the very reading of another is the same moment."""
    rows = meters("100", loose, "130")
    rows[1]["drained_on"] = None
    assert hours(check(*rows)) == [None, after]


@pytest.mark.parametrize(
    ("day", "placed"), [("2026-11-25", True), ("2026-11-26", False), ("1970-01-01", True), ("1969-12-31", False)]
)
def test_a_date_that_cannot_be_is_no_place_in_time(check, day: str, placed: bool) -> None:
    """The log is checked on 2026-11-25, and none is older than 1970: placed elsewhere, the reading parts nothing."""
    rows = meters("100", "112", "130")
    rows[1]["drained_on"] = day
    assert hours(check(*rows))[-1] == (30.0 if placed else None)


def test_the_note_on_a_gap_names_its_reason(check, messages) -> None:
    rows = meters("100", "112", "130")
    rows[1]["drained_on"] = "sometime"
    assert (
        "hours on this oil are not known: a drain that may have come in between has no usable date or unit"
        in messages(check(*rows), "meter_hours")
    )


def test_a_name_of_several_units_may_be_any_of_them(check) -> None:
    """F07 is a unit at two sites; a drain of F07 that names no site parts the fills of both."""
    rows = [row | {"site": site} for site in ("north", "south") for row in meters("100", "130")]
    assert hours(check(*rows)) == [None, 30.0, None, 30.0]
    stray = meters(None, "110")[1] | {"site": None, "oil_hours": "9"}
    assert hours(check(*rows, stray))[:4] == [None, None, None, None]


@pytest.mark.parametrize("known", ["meter_hours", "drained_on"])
def test_a_drain_of_no_unit_is_ruled_out_by_what_is_known_of_it(check, known: str) -> None:
    """By its reading alone, or its day alone, both ends counted in."""
    rows = meters("100", "112", "130")
    ends = {"meter_hours": ["100", "112", "130"], "drained_on": DAYS[:3]}[known]
    blank = {"unit_id": None, "meter_hours": None, "drained_on": None, "oil_hours": "3"}
    beyond = {"meter_hours": ("99.9", "130.1"), "drained_on": ("2025-12-31", "2026-01-22")}[known]
    for at in beyond:
        assert hours(check(*rows, blank | {known: at})) == [None, 12.0, 18.0]
    for at, expected in zip(ends, ([None, None, 18.0], [None, None, None], [None, 12.0, None]), strict=True):
        assert hours(check(*rows, blank | {known: at})) == expected
    assert hours(check(*rows, blank)) == [None, None, None]


@pytest.mark.parametrize("unusable", [{"drained_on": "2026-11-26"}, {"drained_on": "1969-12-31"}])
def test_a_drain_of_no_unit_may_be_anywhere_where_its_day_cannot_be(check, unusable: dict[str, str]) -> None:
    stray = {"unit_id": None, "meter_hours": None, "oil_hours": "3"} | unusable
    assert hours(check(*meters("100", "112", "130"), stray)) == [None, None, None]


def test_a_drain_of_no_unit_may_be_anywhere_where_its_row_does_not_fit_the_header(check) -> None:
    stray = {"unit_id": None, "meter_hours": "99.9", "drained_on": None, "_fault": "has 2 cells more than the header"}
    assert hours(check(*meters("100", "112", "130"), stray)) == [None, None, None]


def test_too_many_drains_of_no_unit_leave_no_difference_to_trust(check) -> None:
    rows = meters("100", "112")
    stray = {"unit_id": None, "meter_hours": None, "oil_hours": "3", "drained_on": "2025-03-01"}
    assert hours(check(*rows, *([stray] * 100))) == [None, 12.0]
    assert hours(check(*rows, *([stray] * 101))) == [None, None]


def test_a_top_up_of_no_unit_parts_nothing(check) -> None:
    stray = {"unit_id": None, "meter_hours": "106", "drained_on": None, "service_kind": "top-up", "oil_hours": None}
    assert hours(check(*meters("100", "112"), stray)) == [None, 12.0]


def test_a_row_that_does_not_fit_the_header_has_no_reading_to_trust(check) -> None:
    rows = meters("100", "112", "130")
    rows[1] |= {"_fault": "has 2 cells more than the header"}
    assert hours(check(*rows)) == [None, None]


def test_a_drain_that_names_no_unit_may_be_any_units(check) -> None:
    rows = [row | {"unit_id": "F07"} for row in meters("100", "112", "130", "150")]
    rows[1]["unit_id"] = None
    assert hours(check(*rows)) == [None, None, 20.0]
    other = [row | {"unit_id": "F08"} for row in meters("500", "510", "520", "530")]
    found = check(*rows, *other).accepted["drains"].filter(pl.col("unit_key") == "F08")
    assert found["oil_hours"].to_list() == [None, 10.0, 10.0, 10.0], "a reading of 112 h is none of F08's"


def test_no_hours_between_two_drains_is_held_back(check) -> None:
    log = check(*meters("100", "100"))
    assert log.held_back["reason"].to_list() == ["shows no hours since the drain on line 2: correct the reading"]
    assert log.held_back["column"].to_list() == ["meter_hours"]


def test_typed_hours_need_none_on_the_meter(check) -> None:
    rows = meters("100", "100")
    rows[1]["oil_hours"] = "11"
    assert hours(check(*rows)) == [None, 11.0]


def test_readings_are_shown_to_two_decimals(check, messages) -> None:
    (reason,) = check(*meters("100", "2200.126")).held_back["reason"]
    assert reason.startswith("shows 2100.13 h since")
    remarks = messages(check(*meters("812.126", "5.124")), "meter_hours")
    assert "the meter runs backwards, 5.12 h after 812.13 h: taken as a reset" in remarks


def test_unknown_hours_are_noted_and_not_asked_about(check) -> None:
    remarks = check(*meters("800", "812", "5")).remarks
    assert remarks.filter(pl.col("message").str.starts_with("hours on this oil"))["kind"].to_list() == ["note"] * 2


def test_more_hours_than_a_fill_can_have_is_held_back(check) -> None:
    log = check(*meters("100", "2200"))
    assert log.held_back["reason"].to_list() == [
        "shows 2100.0 h since the drain on line 2: over 2000 h; correct the reading"
    ]
    assert log.held_back["column"].to_list() == ["meter_hours"]


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
    assert any("hours differ from the meter" in text for text in messages(log, "oil_hours")) == asked
    in_question = log.accepted["drains"].filter("hours_in_question")
    assert in_question["cautious_hours"].to_list() == ([min(float(typed), 12.0)] if asked else [])


@pytest.mark.parametrize(("reading", "typed"), [("105", "6"), ("120", "22")])
def test_typed_hours_just_at_the_limit_are_not_asked_about(check, messages, reading: str, typed: str) -> None:
    """Exactly 1 h off 5 h, and exactly 10 % off 20 h."""
    rows = meters("100", reading)
    rows[0]["oil_hours"], rows[1]["oil_hours"] = "10", typed
    assert not any("hours differ from the meter" in text for text in messages(check(*rows), "oil_hours"))


readings = st.lists(st.floats(1, 60).map(lambda h: round(h, 1)), min_size=2, max_size=8)


@settings(max_examples=examples(6), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
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
