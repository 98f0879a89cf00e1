"""Names with a question mark are not read in silence."""

import polars as pl
import pytest

from draincurve.schemas.settings import Settings

DAYS = [{"drained_on": f"2026-0{month}-04"} for month in range(1, 4)]


@pytest.mark.parametrize("unit", ["F07?", "F07 ??", "F07 (?)", "? F07"])
def test_a_unit_in_doubt_is_held_back(check, unit: str) -> None:
    log = check(*DAYS, {"unit_id": unit, "drained_on": "2026-04-04"})
    assert log.held_back.select("line", "column", "value").rows() == [(5, "unit_id", unit)]
    settled = Settings(words={"unit_id": {unit.casefold(): "F07"}})
    assert check(*DAYS, {"unit_id": unit, "drained_on": "2026-04-04"}, settings=settled).held_back_count == 0


@pytest.mark.parametrize(
    ("column", "name"), [("rider", "AB"), ("rated_by", "KB"), ("oil_grade", "5W"), ("spring_type", "hard")]
)
def test_any_other_name_in_doubt_is_an_assumption(check, column: str, name: str) -> None:
    log = check(*[day | {column: name} for day in DAYS], {column: f"{name}?", "drained_on": "2026-04-04"})
    assert log.held_back_count == 0
    assert log.assumed.select("line", "column", "message").rows() == [(5, column, f"'{name}?' is read as '{name}'")]
    assert set(log.accepted["drains"][column]) == {name}


def test_a_cell_without_a_name_is_empty(check) -> None:
    log = check(*DAYS, {"unit_id": "?", "drained_on": "2026-04-04"})
    assert log.reasons.filter(pl.col("column") == "unit_id")["message"].str.starts_with("is empty").all()
