"""Subtotals with a date, rows for all units and examples are no drains of a unit."""

import tomllib

import pytest

from draincurve.schemas.settings import Settings

TOTALS = ("Subtotal", "TOTAL", "Summe F07", "F07 total", "Total: F07", "Ø")
DAYS = [{"drained_on": f"2026-0{month}-04"} for month in range(1, 4)]


@pytest.mark.parametrize("name", [*TOTALS, "all", "Both legs", "alle Gabeln", "tous", "EXAMPLE", "(Beispiel)"])
def test_a_row_of_no_unit_is_held_back_and_is_no_unit_without_drains(check, name: str) -> None:
    log = check(*DAYS, {"unit_id": name, "drained_on": "2026-04-04", "oil_hours": "36"})
    assert log.held_back.select("line", "column", "value").rows() == [(5, "unit_id", name)]
    assert log.asked.is_empty()
    setting = tomllib.loads(log.reasons["setting"].item())
    assert setting == {"words": {"unit_id": {name: name}}}
    settled = Settings(words={"unit_id": {name.casefold(): name}})
    assert check(*DAYS, {"unit_id": name, "drained_on": "2026-04-04"}, settings=settled).held_back_count == 0


@pytest.mark.parametrize("name", ["Sum-1", "Total 7", "Mediano", "F08 total", "All-Star", "both 7", "Example 2"])
def test_other_names_with_such_a_word_are_units(check, name: str) -> None:
    assert check(*DAYS, {"unit_id": name, "drained_on": "2026-04-04"}).held_back_count == 0
