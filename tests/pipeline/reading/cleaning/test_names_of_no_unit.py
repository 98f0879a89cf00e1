"""Subtotals with a date, rows for all units and examples are no drains of a unit."""

import tomllib

from draincurve.schemas.settings import Settings

TOTALS = ("Subtotal", "TOTAL", "Summe F07", "F07 total", "Total: F07", "Ø")
DAYS = [{"drained_on": f"2026-0{month}-04"} for month in range(1, 4)]


STATISTICS = (
    "Min",
    "max.",
    "Minimum",
    "Median",
    "StdDev",
    "Plan",
    "Soll",
    "Target:",
    "Budget",
    "last year",
)
OF_FLEET = ("Vorjahr", "Fleet avg", "Ø Flotte", "max F07", "Mean of the fleet", "Average all forks")
NO_UNITS = (*TOTALS, *STATISTICS, *OF_FLEET, "all", "Both legs", "alle Gabeln", "tous", "EXAMPLE", "(Beispiel)")


def named(*names: str) -> list[dict]:
    """A row for each name, after three of a unit."""
    return DAYS + [
        {"unit_id": name, "drained_on": "2026-04-01", "oil_hours": str(day)} for day, name in enumerate(names, 4)
    ]


def test_rows_of_no_unit_are_held_back_and_are_no_units_without_drains(check) -> None:
    log = check(*named(*NO_UNITS))
    assert log.held_back.sort("line").select("line", "column", "value").rows() == [
        (line, "unit_id", name) for line, name in enumerate(NO_UNITS, 5)
    ]
    assert log.asked.filter(column="unit_id").is_empty()
    for name, setting in zip(NO_UNITS, log.reasons.sort("line")["setting"], strict=True):
        assert tomllib.loads(setting) == {"words": {"unit_id": {name: name}}}
    settled = Settings(words={"unit_id": {name.casefold(): name for name in NO_UNITS}})
    assert check(*named(*NO_UNITS), settings=settled).held_back_count == 0


def test_other_names_with_such_a_word_are_units(check) -> None:
    names = (
        "Sum-1",
        "Total 7",
        "Mediano",
        "F08 total",
        "All-Star",
        "both 7",
        "Example 2",
        "Maxi",
        "Plan B",
        "Mad Max",
        "Fleet 7",
    )
    assert check(*named(*names)).held_back_count == 0
