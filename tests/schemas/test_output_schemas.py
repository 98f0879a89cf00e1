from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandera.polars as pa
import polars as pl
import pytest
from pandera.config import config_context

from draincurve.schemas import fleet_intervals_table, held_back_table, next_service_table
from draincurve.schemas.errors import ContractError
from draincurve.schemas.fleet_intervals_table import checked_fleet_intervals
from draincurve.schemas.held_back_table import checked_held_back
from draincurve.schemas.next_service_table import NextService, checked_next_service
from draincurve.schemas.output_table import column_values
from draincurve.schemas.settings import Caps, Settings

AS_OF = date(2026, 6, 1)
GOOD: dict[str, object] = {
    "unit_id": "F07", "site": "north", "spring_type": "steel", "oil_grade": "amber", "rider": "rider a", "drains": 4,
    "last_drained_on": date(2026, 5, 20), "hours_on_oil": 4.0, "hours_on_oil_basis": "logged", "interval_h": 12.5,
    "interval_low_h": 9.1, "interval_high_h": 18.2, "set_by": "debris", "hours_left": 8.5,
    "due_on": date(2026, 6, 10), "due_on_early": date(2026, 6, 7), "due_on_late": date(2026, 6, 20),
    "due_before": None, "risk_now": 0.02, "hours_ratio": 0.9, "hours_ratio_low": 0.7, "hours_ratio_high": 1.2,
    "p_faster": 0.2, "standing": "with the fleet", "turned": False,
}  # fmt: skip
DTYPES = {"due_before": pl.Date, "site": pl.String}


def rows(*changes: dict[str, object]) -> pl.DataFrame:
    frames = [GOOD | {"unit_id": f"F{i}"} | change for i, change in enumerate(changes)]
    schema = {
        name: pl.Series([GOOD[name]]).dtype if GOOD[name] is not None else DTYPES[name]
        for name in next_service_table.COLUMNS
    }
    return pl.DataFrame(frames, schema=schema)


def test_the_columns_are_those_of_the_contract_in_its_order():
    """The order of the data contract, next_service.csv and fleet_intervals.csv."""
    assert tuple(GOOD) == next_service_table.COLUMNS
    assert fleet_intervals_table.COLUMNS == (
        "spring_type", "oil_grade", "interval_h", "interval_low_h", "interval_high_h", "set_by", "drains", "units",
    )  # fmt: skip
    assert held_back_table.COLUMNS == ("source", "line", "column", "value", "reason", "unit_id", "day")


@pytest.mark.parametrize(
    "model", [next_service_table.NextService, fleet_intervals_table.FleetIntervals, held_back_table.HeldBack]
)
def test_every_column_is_documented(model):
    for name, column in model.to_schema().columns.items():
        assert column.description, name


def test_a_good_row_passes_unchanged_and_so_does_one_of_which_nothing_is_known():
    table = rows(GOOD)
    assert checked_next_service(table, Settings(), AS_OF) is table
    unknown = dict.fromkeys(GOOD) | {
        "unit_id": "F9", "drains": 0, "hours_on_oil_basis": "estimated", "standing": "too few drains",
    }  # fmt: skip
    assert checked_next_service(rows({}, unknown), Settings(), AS_OF).height == 2


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"risk_now": 1.2}, "risk_now"),
        ({"p_faster": -0.1}, "p_faster"),
        ({"hours_ratio": 0.0}, "hours_ratio"),
        ({"hours_on_oil": -1.0, "hours_left": 13.5}, "hours_on_oil"),
        ({"interval_h": float("nan")}, "NaN"),
        ({"interval_low_h": float("nan")}, "NaN"),
        ({"unit_id": ""}, "unit_id"),
        ({"unit_id": None}, "unit_id"),
        ({"set_by": "a guess"}, "set_by"),
        ({"standing": "bad"}, "standing"),
        ({"hours_on_oil_basis": "guessed"}, "hours_on_oil_basis"),
        ({"interval_h": 12.3, "hours_left": 8.3}, "steps of 0.5"),
        ({"interval_low_h": 20.0}, "interval_low_h is not over interval_high_h"),
        ({"hours_ratio_low": 2.0}, "hours_ratio_low is not over"),
        ({"due_on_early": date(2026, 6, 12)}, "due_on_early is not over due_on"),
        ({"due_on_late": date(2026, 6, 9)}, "due_on is not over due_on_late"),
        ({"due_on_early": date(2026, 5, 30)}, "before 2026-06-01"),
        ({"due_before": date(2026, 6, 9)}, "not after the event"),
        ({"hours_left": 3.0}, "hours_left is"),
        ({"hours_left": None}, "hours_left is"),
        ({"set_by": None}, "names what set it"),
    ],
)
def test_a_broken_row_is_refused_by_name(change, said):
    with pytest.raises(ContractError, match=said):
        checked_next_service(rows({}, change), Settings(), AS_OF)


def test_an_interval_past_the_fleets_limit_is_refused():
    capped = replace(Settings(), caps=Caps(12.0, None))
    with pytest.raises(ContractError, match="at most 12 h"):
        checked_next_service(rows({}), capped, AS_OF)


def test_missing_or_misplaced_columns_and_repeated_units_are_refused():
    with pytest.raises(ContractError, match="next_service"):
        checked_next_service(rows({}).drop("rider"), Settings(), AS_OF)
    with pytest.raises(ContractError, match="next_service"):
        checked_next_service(rows({}).select(sorted(next_service_table.COLUMNS)), Settings(), AS_OF)
    with pytest.raises(ContractError, match="appears twice"):
        checked_next_service(rows({"unit_id": "F1"}, {"unit_id": "F1"}), Settings(), AS_OF)
    two_sites = rows({"unit_id": "F1", "site": "north"}, {"unit_id": "F1", "site": "south"})
    assert checked_next_service(two_sites, Settings(), AS_OF).height == 2


def test_checks_that_are_switched_off_from_outside_are_noticed():
    with config_context(validation_enabled=False), pytest.raises(ContractError, match="switched off"):
        checked_next_service(rows({}), Settings(), AS_OF)


def fleet(**change: object) -> pl.DataFrame:
    good = {
        "spring_type": "steel", "oil_grade": "amber", "interval_h": 12.0, "interval_low_h": 6.0,
        "interval_high_h": 24.0, "set_by": "colour", "drains": 9, "units": 3,
    }  # fmt: skip
    return pl.DataFrame([good | change], schema=pl.DataFrame([good]).schema)


def test_fleet_intervals_are_held_to_their_rules():
    assert checked_fleet_intervals(fleet(), Settings()).height == 1
    assert checked_fleet_intervals(fleet(interval_h=None, set_by=None), Settings()).height == 1
    for change, said in (
        ({"interval_h": 12.2}, "steps"),
        ({"interval_low_h": 30.0}, "low is not over high"),
        ({"units": 10}, "no more units than drains"),
        ({"set_by": None}, "names what set it"),
        ({"interval_h": float("nan")}, "NaN"),
        ({"drains": -1}, "drains"),
    ):
        with pytest.raises(ContractError, match=said):
            checked_fleet_intervals(fleet(**change), Settings())
    with pytest.raises(ContractError, match="appear twice"):
        checked_fleet_intervals(pl.concat([fleet(), fleet()]), Settings())
    with pytest.raises(ContractError, match="at most 5 h"):
        checked_fleet_intervals(fleet(), replace(Settings(), caps=Caps(5.0, None)))


def test_held_back_rows_keep_the_row_as_it_came_behind_the_reason():
    row = {
        "rider": "Brask",
        "unit_id": "F1",
        "day": None,
        "reason": "no date",
        "line": 4,
        "source": "log.csv",
        "column": "drained_on",
        "value": None,
    }
    table = pl.DataFrame([row], schema_overrides={"value": pl.String, "day": pl.String})
    assert checked_held_back(table).columns == [*held_back_table.COLUMNS, "rider"]
    for change in ({"reason": ""}, {"line": 0}, {"source": None}):
        with pytest.raises(ContractError, match="held_back"):
            checked_held_back(pl.DataFrame([row | change], schema=table.schema))


def test_a_column_of_a_table_that_goes_out_is_one_field():
    class WithShare(NextService):
        hours_run: float = pa.Field(metadata={"value": pl.col("hours_on_oil") + 1.0})

    decided = pl.DataFrame({name: [None] for name in NextService.to_schema().columns}).with_columns(hours_on_oil=2.0)
    table = decided.select(column_values(WithShare))
    assert table.columns == [*NextService.to_schema().columns, "hours_run"]
    assert table["hours_run"].item() == 3.0
