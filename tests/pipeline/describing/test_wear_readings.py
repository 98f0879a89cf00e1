"""Readings of measured quantities, each as a series of its own."""

from datetime import date

import polars as pl

from draincurve.pipeline.describing.wear_readings import wear_series
from draincurve.schemas.settings import LaboratoryRule

DAY = date(2026, 5, 1)
DRAINS = pl.DataFrame(
    schema={
        "unit_key": pl.String, "drained_on": pl.Date, "oil_hours": pl.Float64, "service_kind": pl.String,
        "oil_grade": pl.String, "new_parts": pl.String,
    }
)  # fmt: skip


def measurements(*codes):
    return pl.DataFrame(
        {
            "unit_key": [f"u{number}" for number in range(len(codes))],
            "unit_id": [f"u{number}" for number in range(len(codes))],
            "site": [None] * len(codes),
            "measured_on": [DAY] * len(codes),
            "quantity": ["iso_code"] * len(codes),
            "value": [1.0] * len(codes),
            "unit": ["class"] * len(codes),
            "code": list(codes),
            "bound": [None] * len(codes),
            "component_hours": [10.0] * len(codes),
            "rebuilt_on": [None] * len(codes),
            "line": range(len(codes)),
        },
        schema_overrides={"site": pl.String, "bound": pl.String, "rebuilt_on": pl.Date},
    )


def test_a_code_is_a_reading_of_each_size_that_was_counted():
    found = wear_series(
        measurements("22/19/>=14", "*/18/13", "-/>28/7"),
        DRAINS,
        oils=None,
        limits={},
        as_of=DAY,
        rule=LaboratoryRule(),
    )
    values = {series.quantity.name: series.readings["value"].to_list() for series in found}
    assert values == {"iso_code_4um": [22.0], "iso_code_6um": [19.0, 18.0, 28.0], "iso_code_14um": [14.0, 13.0, 7.0]}
