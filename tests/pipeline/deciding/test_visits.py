"""One visit for what is due near each other, at the first of the dates."""

from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.deciding.visits import with_visits

DAY = date(2026, 6, 20)


def due(*days):
    return [None if days_off is None else DAY + timedelta(days=days_off) for days_off in days]


def test_dates_near_each_other_are_one_visit_and_none_moves_later():
    parts = pl.DataFrame(
        {
            "unit_id": ["F1"] * 4 + ["F2"],
            "site": [None] * 5,
            "part": ["seals", "bushes", "spring", "rod", "seals"],
            "due_on": due(12, 30, 41, None, 3),
        },
        schema_overrides={"site": pl.String},
    )
    oil = pl.DataFrame({"unit_id": ["F1", "F2"], "site": [None, None], "due_on": due(5, 60)},
                       schema_overrides={"site": pl.String})  # fmt: skip
    found = with_visits(parts, oil, 14)
    assert found["visit_on"].to_list() == due(5, 30, 30, None, 3)
    assert found["visit_with"].to_list() == ["service", "spring", "bushes", None, None]
    assert (found["visit_on"] <= found["due_on"]).all()
