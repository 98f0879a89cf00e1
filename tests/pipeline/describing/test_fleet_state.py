from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from draincurve.pipeline.describing.fleet_state import STATE_COLUMNS, fleet_state, longest_fill
from draincurve.pipeline.describing.signs import inspect_now

AS_OF = date(2026, 6, 1)
SCHEMA = {
    "unit_key": pl.String, "unit_id": pl.String, "drained_on": pl.Date, "oil_hours": pl.Float64,
    "oil_grade": pl.String, "filled_ml": pl.Float64, "drained_ml": pl.Float64,
    "debris_low": pl.Int64, "debris_high": pl.Int64,
    "spring_type": pl.String, "spring_hours": pl.Float64, "rider": pl.String, "surface": pl.String,
    "site": pl.String, "machine": pl.String, "chamber": pl.String, "service_kind": pl.String,
    "milky": pl.Boolean, "burnt": pl.Boolean, "leak": pl.Boolean, "signs_in_question": pl.String,
}  # fmt: skip


def log(*rows: dict[str, object]) -> pl.DataFrame:
    """Drains of unit u unless said otherwise, `ago` days before AS_OF."""
    full = []
    for given in rows:
        row = dict(given)
        row["drained_on"] = AS_OF - timedelta(days=int(str(row.pop("ago"))))
        unit = row.get("unit_key", "u")
        full.append(
            {"unit_key": unit, "unit_id": str(unit).upper(), "oil_hours": 10.0, "oil_grade": "amber",
             "spring_type": "steel", "rider": "rider a", "site": "north", "service_kind": "oil"} | row
        )  # fmt: skip
    return pl.DataFrame(full, schema=SCHEMA)


def only(state: pl.DataFrame) -> dict[str, object]:
    assert state.height == 1
    return state.row(0, named=True)


def test_the_last_drain_tells_what_runs_now_and_a_top_up_is_no_drain():
    state = only(
        fleet_state(
            log(
                {"ago": 60, "oil_hours": 8.0},
                {
                    "ago": 30,
                    "oil_hours": 14.0,
                    "filled_ml": 500.0,
                    "drained_ml": 450.0,
                    "spring_hours": 40.0,
                    "rider": "rider b",
                },
                {"ago": 5, "oil_hours": 3.0, "service_kind": "top-up"},
            ),
            None,
            as_of=AS_OF,
        )
    )
    assert tuple(state) == STATE_COLUMNS
    assert state["drains"] == 2
    assert state["last_drained_on"] == AS_OF - timedelta(days=30)
    assert state["usual_hours"] == 11.0
    assert state["spring_hours_now"] == 40.0
    assert state["last_shortfall"] == pytest.approx(0.1)
    assert state["rider"] == "rider b"
    assert state["signs"] is None
    assert state["limit_borrowed"] is False


def test_a_drain_after_the_day_of_the_plan_is_not_known_yet():
    state = only(fleet_state(log({"ago": 10}, {"ago": -3}), None, as_of=AS_OF))
    assert state["drains"] == 1
    assert state["last_drained_on"] == AS_OF - timedelta(days=10)


@pytest.mark.parametrize(
    ("filled", "drained", "wanted"), [(500.0, 520.0, 0.0), (500.0, 100.0, 0.5), (500.0, None, None)]
)
def test_the_shortfall_is_held_to_what_can_be(filled, drained, wanted):
    state = only(fleet_state(log({"ago": 1, "filled_ml": filled, "drained_ml": drained}), None, as_of=AS_OF))
    assert state["last_shortfall"] == wanted


def test_the_register_stands_over_the_log_and_decides_who_is_in_service():
    units = pl.DataFrame(
        {
            "unit_key": ["u", "new", "gone"],
            "unit_id": ["U", "NEW", "GONE"],
            "spring_type": ["light", "steel", "steel"],
            "in_service": [None, True, False],
        },
        schema_overrides={"in_service": pl.Boolean},
    )
    state = fleet_state(log({"ago": 9, "spring_hours": 70.0}, {"ago": 3, "unit_key": "log only"}), units, as_of=AS_OF)
    assert state["unit_key"].to_list() == ["log only", "new", "u"]
    by_key = {row["unit_key"]: row for row in state.iter_rows(named=True)}
    assert by_key["u"]["spring_type"] == "light"
    assert by_key["u"]["spring_hours_now"] is None, "hours of another spring say nothing of the one fitted now"
    assert by_key["u"]["oil_grade"] == "amber"
    assert by_key["new"]["drains"] == 0
    assert by_key["new"]["last_drained_on"] is None


def test_a_missing_limit_is_borrowed_from_the_same_position_else_the_shortest_of_all():
    units = pl.DataFrame(
        {
            "unit_key": ["a", "b", "c", "d", "out"],
            "unit_id": ["A", "B", "C", "D", "OUT"],
            "position": ["front", "front", "rear", None, "front"],
            "max_interval_h": [20.0, None, 12.0, None, 15.0],
            "max_oil_days": [None, None, 300.0, None, None],
            "in_service": [True, True, True, True, False],
        }
    )
    state = fleet_state(log({"ago": 3, "unit_key": "log only"}), units, as_of=AS_OF)
    by_key = {row["unit_key"]: row for row in state.iter_rows(named=True)}
    assert by_key["a"]["max_interval_h"] == 20.0
    assert by_key["b"]["max_interval_h"] == 15.0
    assert by_key["d"]["max_interval_h"] == 12.0
    assert by_key["log only"]["max_interval_h"] == 12.0
    assert by_key["c"]["limit_borrowed"] is False
    assert {by_key[key]["max_oil_days"] for key in by_key} == {300.0}
    assert by_key["a"]["limit_borrowed"] is True, "its oil age is borrowed"


def test_without_any_limit_in_the_register_nothing_is_borrowed():
    units = pl.DataFrame({"unit_key": ["u"], "unit_id": ["U"]})
    state = only(fleet_state(log({"ago": 3}), units, as_of=AS_OF))
    assert state["max_interval_h"] is None
    assert state["limit_borrowed"] is False


def test_a_sign_stands_until_a_later_drain_says_no():
    assert (
        only(fleet_state(log({"ago": 9, "milky": True, "leak": True}), None, as_of=AS_OF))["signs"] == "milky, leak"
    )
    cleared = log({"ago": 9, "milky": True}, {"ago": 3, "milky": False})
    assert only(fleet_state(cleared, None, as_of=AS_OF))["signs"] is None
    again = log({"ago": 9, "milky": False}, {"ago": 3, "milky": True})
    assert only(fleet_state(again, None, as_of=AS_OF))["signs"] == "milky"


def test_a_blank_clears_no_sign():
    blanks = log({"ago": 9, "burnt": True}, {"ago": 3})
    assert only(fleet_state(blanks, None, as_of=AS_OF))["signs"] == "burnt"


def test_a_sign_that_only_a_note_may_mean_is_possible_until_one_is_sure():
    asked = {"ago": 9, "leak": True, "burnt": True, "signs_in_question": "leak"}
    said = "burnt, leak possible: its note is asked about"
    assert only(fleet_state(log(asked), None, as_of=AS_OF))["signs"] == said
    sure = log(asked, {"ago": 3, "leak": True})
    assert only(fleet_state(sure, None, as_of=AS_OF))["signs"] == "burnt, leak"


def test_a_rebuild_clears_and_a_top_up_shows_but_does_not_clear():
    rebuilt = log({"ago": 20, "leak": False}, {"ago": 9, "leak": True}, {"ago": 3, "service_kind": "rebuild"})
    assert only(fleet_state(rebuilt, None, as_of=AS_OF))["signs"] is None
    shown = log({"ago": 9}, {"ago": 3, "service_kind": "top-up", "leak": True})
    assert only(fleet_state(shown, None, as_of=AS_OF))["signs"] == "leak"
    topped = log({"ago": 9, "leak": True}, {"ago": 3, "service_kind": "top-up", "leak": False})
    assert only(fleet_state(topped, None, as_of=AS_OF))["signs"] == "leak"


def test_flakes_stand_until_debris_is_rated_lower():
    assert only(fleet_state(log({"ago": 9, "debris_high": 5}, {"ago": 3}), None, as_of=AS_OF))["signs"] == "flakes"
    lower = log({"ago": 9, "debris_high": 5}, {"ago": 3, "debris_high": 3})
    assert only(fleet_state(lower, None, as_of=AS_OF))["signs"] is None


def test_a_rating_between_two_levels_says_that_the_sign_is_possible_until_one_is_sure():
    between, sure = {"ago": 9, "debris_low": 4, "debris_high": 5}, {"ago": 6, "debris_low": 5, "debris_high": 5}
    possible = "flakes possible: debris rated 4-5"
    assert only(fleet_state(log(between), None, as_of=AS_OF))["signs"] == possible
    assert only(fleet_state(log(between, sure), None, as_of=AS_OF))["signs"] == "flakes"
    assert only(fleet_state(log(sure, between | {"ago": 3}), None, as_of=AS_OF))["signs"] == "flakes"
    cleared = log(sure, {"ago": 5, "debris_low": 2, "debris_high": 2}, between | {"ago": 3})
    assert only(fleet_state(cleared, None, as_of=AS_OF))["signs"] == possible


def test_a_sign_was_seen_on_the_day_of_the_last_drain_that_shows_it():
    def seen(drains: pl.DataFrame) -> list[tuple[int | None, str]]:
        found = inspect_now(drains, drains.clear(), units=None)
        return [(day and (AS_OF - day).days, signs) for day, signs in found.select("drained_on", "signs").iter_rows()]

    assert seen(log({"ago": 90, "leak": True}, {"ago": 30}, {"ago": 3})) == [(90, "leak")]
    assert seen(log({"ago": 90, "leak": True}, {"ago": 30, "milky": True}, {"ago": 3})) == [(30, "milky, leak")]
    cleared = log({"ago": 90, "leak": True}, {"ago": 30, "milky": True}, {"ago": 3, "milky": False})
    assert seen(cleared) == [(90, "leak")]
    undated = log({"ago": 30}, {"ago": 3, "leak": True}).with_columns(
        pl.when(pl.col("leak")).then(None).otherwise("drained_on").alias("drained_on")
    )
    assert seen(undated) == [(None, "leak")]


def test_the_longest_fill_of_a_spring_leaves_out_top_ups_and_unknown_hours():
    fills = longest_fill(
        log(
            {"ago": 9, "oil_hours": 12.0},
            {"ago": 8, "oil_hours": 30.0, "service_kind": "top-up"},
            {"ago": 7, "oil_hours": None, "spring_type": "light"},
            {"ago": 6, "oil_hours": 14.0},
        )
    )
    assert fills.rows() == [("steel", 14.0)]


def test_an_empty_log_with_a_register_still_gives_every_unit():
    units = pl.DataFrame({"unit_key": ["u"], "unit_id": ["U"], "max_interval_h": [10.0]})
    state = only(fleet_state(log(), units, as_of=AS_OF))
    assert state["drains"] == 0
    assert state["max_interval_h"] == 10.0
