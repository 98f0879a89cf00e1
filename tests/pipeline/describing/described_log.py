"""An invented log as the later stages get it: accepted drains with every column the describing stage reads."""

from datetime import date, timedelta

import polars as pl

SCHEMA = {
    "unit_key": pl.String,
    "unit_id": pl.String,
    "drained_on": pl.Date,
    "oil_hours": pl.Float64,
    "oil_grade": pl.String,
    "filled_ml": pl.Float64,
    "drained_ml": pl.Float64,
    "settle_hours": pl.Float64,
    "colour_low": pl.Int64,
    "colour_high": pl.Int64,
    "debris_low": pl.Int64,
    "debris_high": pl.Int64,
    "spring_type": pl.String,
    "spring_hours": pl.Float64,
    "rider": pl.String,
    "rated_by": pl.String,
    "surface": pl.String,
    "site": pl.String,
    "service_kind": pl.String,
    "line": pl.Int64,
}


def accepted(**columns):
    """24 drains of six units; columns given stand over the plain ones, a single value fills the column."""
    n = 24
    plain = {
        "unit_key": [f"u{i // 4}" for i in range(n)],
        "unit_id": [f"U{i // 4}" for i in range(n)],
        "drained_on": [date(2026, 1, 1) + timedelta(days=10 * (i % 4)) for i in range(n)],
        "oil_hours": [8.0 + (7 * i) % 11 for i in range(n)],
        "oil_grade": "Fork 5",
        "filled_ml": 500.0,
        "drained_ml": None,
        "settle_hours": None,
        "colour_low": [1 + (5 * i) % 4 for i in range(n)],
        "colour_high": [1 + (5 * i) % 4 for i in range(n)],
        "debris_low": [1 + i % 5 for i in range(n)],
        "debris_high": [1 + i % 5 for i in range(n)],
        "spring_type": ["Plain 46" if i % 3 else "Stepped 46" for i in range(n)],
        "spring_hours": None,
        "rider": "Brask",
        "rated_by": None,
        "surface": None,
        "site": None,
        "service_kind": "oil",
        "line": list(range(2, n + 2)),
    }
    values = {name: value if isinstance(value, list) else [value] * n for name, value in (plain | columns).items()}
    return pl.DataFrame(values, schema=SCHEMA)
