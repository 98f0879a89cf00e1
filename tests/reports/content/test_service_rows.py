"""Rows of the next-service table: order, words, and that the unknown never looks safe."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.deciding import PlannedRide
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.fleet_interval_rows import fleet_interval_rows
from draincurve.reports.content.service_rows import ServiceRow, service_rows
from draincurve.reports.content.unit_names import UnitNames

AS_OF = date(2026, 5, 13)
NAMES = UnitNames(frozenset())


def rows_with(result: PlanResult, **cells: Any) -> tuple[ServiceRow, ...]:
    """The first row of a fleet with some cells changed."""
    row = result.decided.next_service.head(1)
    changed = row.with_columns(pl.lit(value, dtype=row.schema[name]).alias(name) for name, value in cells.items())
    return service_rows(changed, NAMES, as_of=AS_OF)


def test_order_is_due_now_then_without_a_date_then_by_date(race_team: PlanResult) -> None:
    rows = service_rows(race_team.decided.next_service, NAMES, as_of=AS_OF)
    ranks = [0 if row.due_now else 1 if row.act_by is None else 2 for row in rows]
    assert ranks == sorted(ranks)
    dates = [row.act_by for row in rows if not row.due_now and row.act_by is not None]
    assert dates == sorted(dates)
    assert len(rows) == race_team.decided.next_service.height


@pytest.mark.parametrize(
    ("cells", "due", "left"),
    [
        ({"hours_left": -1.5}, "due now", "1.5 h over"),
        ({"hours_left": 0.0}, "due now", "interval reached"),
        ({"hours_left": 2.0, "due_on": date(2026, 5, 20), "due_before": None}, "by Wed 20 May", "2.0 h left"),
        (
            {"hours_left": 2.0, "due_on": date(2026, 6, 20), "due_before": date(2026, 6, 20)},
            "before Sat 20 Jun",
            "2.0 h left",
        ),
        (
            {"hours_left": 2.0, "due_on": date(2026, 6, 18), "due_before": date(2026, 6, 20)},
            "by Thu 18 Jun",
            "2.0 h left",
        ),
        ({"hours_left": 2.0, "due_on": None, "due_before": None}, "no date known", "2.0 h left"),
        (
            {"hours_left": None, "hours_on_oil": None, "due_on": None, "due_before": None},
            "treat as due",
            "hours on the oil not known",
        ),
        ({"hours_left": None, "due_on": AS_OF, "due_before": None}, "due now", "hours on the oil not known"),
        (
            {"hours_left": None, "last_drained_on": None, "due_on": AS_OF, "due_before": None},
            "due now",
            "no oil change on record",
        ),
        ({"hours_left": -1.5, "hours_on_oil_basis": "estimated"}, "due now", "about 2 h over"),
        ({"hours_left": -0.4, "hours_on_oil_basis": "estimated"}, "due now", "under an hour over"),
        (
            {"interval_h": None, "hours_left": None, "due_on": None, "due_before": None},
            "no date known",
            "no interval",
        ),
        ({"hours_left": 2.0, "due_on": date(2027, 1, 2), "due_before": None}, "by Sat 2 Jan 2027", "2.0 h left"),
    ],
)
def test_words_of_a_row(race_team: PlanResult, cells: dict[str, Any], due: str, left: str) -> None:
    (row,) = rows_with(race_team, **cells)
    assert (row.due_text(AS_OF), row.left_text) == (due, left)


@given(days=st.integers(0, 400))
def test_a_unit_without_a_date_never_comes_after_one_with_a_future_date(race_team: PlanResult, days: int) -> None:
    table = race_team.decided.next_service.head(2).with_columns(
        pl.Series("hours_left", [5.0, 5.0]),
        pl.Series("due_on", [AS_OF + timedelta(days=days), None]),
        pl.lit(None, dtype=pl.Date).alias("due_before"),
    )
    first = service_rows(table, NAMES, as_of=AS_OF)[0]
    assert first.act_by is None or first.due_now


def test_a_standing_is_said_with_the_fleets_hours_where_the_ratio_is_known(race_team: PlanResult) -> None:
    cells = {"standing": "faster than the fleet", "hours_ratio_low": 0.3, "hours_ratio_high": 0.7}
    known, unknown = (rows_with(race_team, hours_ratio=ratio, **cells)[0] for ratio in (0.46, None))
    assert known.standing_text == "faster than the fleet, 0.46x (0.3 to 0.7) the typical unit's hours"
    assert (unknown.fleet_hours_text, unknown.standing_text) == ("", "faster than the fleet")


def test_what_set_an_interval_names_all_channels_that_matter_alike(race_team: PlanResult) -> None:
    reasons = race_team.decided.unit_reasons.with_columns(pl.lit("colour and debris").alias("close_channels"))
    rows = service_rows(race_team.decided.next_service, NAMES, as_of=AS_OF, unit_reasons=reasons)
    words = {row.set_by: row.set_by_text for row in rows}
    assert (words["colour"], words["debris"]) == ("colour (debris close)", "debris (colour close)")
    assert words["maker_limit"] == "maker's limit"


def test_a_range_is_named_as_the_oils_where_something_else_set_the_interval(race_team: PlanResult) -> None:
    def words(set_by: str) -> str:
        return rows_with(race_team, interval_low_h=4.4, interval_high_h=12.2, set_by=set_by)[0].range_text

    assert words("colour") == words("debris") == "4.4 to 12.2"
    assert words("wear") == words("maker_limit") == "oil alone 4.4 to 12.2"
    assert rows_with(race_team, interval_low_h=None)[0].range_text == ""
    limited = race_team.decided.fleet_intervals.head(1).with_columns(set_by=pl.lit("maker_limit"))
    assert fleet_interval_rows(limited)[0].range == "oil alone 9.8 to 14.2"
    assert fleet_interval_rows(race_team.decided.fleet_intervals)[0].range == "9.8 to 14.2"


def test_a_ratio_clear_of_1_that_is_not_called_is_said_to_be_unsure(race_team: PlanResult) -> None:
    def words(low: float, high: float, standing: str) -> str:
        cells = {"standing": standing, "hours_ratio_low": low, "hours_ratio_high": high}
        return rows_with(race_team, **cells)[0].unsure_text

    assert words(0.4, 0.9, "with the fleet") == "perhaps faster, not sure enough"
    assert words(1.1, 2.7, "with the fleet") == "perhaps slower, not sure enough"
    assert words(0.4, 1.2, "with the fleet") == words(0.4, 0.9, "faster than the fleet") == ""


def test_of_units_due_now_those_that_ride_next_come_first(race_team: PlanResult) -> None:
    table = race_team.decided.next_service.head(3).with_columns(pl.Series("hours_left", [-3.0, -2.0, -1.0]))
    rides = {"F02": (PlannedRide(AS_OF, 2.0),), "F03": (PlannedRide(date(2026, 5, 16), 2.0),)}
    rows = service_rows(table, NAMES, as_of=AS_OF, rides=rides)
    assert [row.name for row in rows] == ["F02", "F03", "F01"]
    assert [row.ride_text(AS_OF) for row in rows[1:]] == ["rides Sat 16 May", "no ride booked"]
    assert [row.name for row in service_rows(table, NAMES, as_of=AS_OF)] == ["F01", "F02", "F03"]


def test_an_estimate_of_the_hours_on_the_oil_is_given_to_the_hour(race_team: PlanResult) -> None:
    (logged,) = rows_with(race_team, hours_on_oil=7.4, hours_on_oil_basis="logged")
    (estimated,) = rows_with(race_team, hours_on_oil=7.4, hours_on_oil_basis="estimated")
    assert (logged.on_oil_hours, estimated.on_oil_hours) == ("7.4 h", "about 7 h")
