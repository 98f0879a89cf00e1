"""A fleet of twelve units of which one is plainly faster and one has two drains, fitted for the tests of judging."""

from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.schemas.settings import Settings

CUTS = np.array([3.3, 5.2, 7.0, 8.7])
SLOPE = 2.4


def fleet_log(seed=2, ratings=None):
    """Accepted drains: u00 is fast (hours ratio 0.4), u11 has two drains, springs and riders alternate."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(12):
        for drain in range(2 if unit == 11 else 14):
            hours = float(np.round(rng.uniform(6, 24), 1))
            stepped = bool(rng.random() < 0.5)
            eta = SLOPE * np.log(hours) - (SLOPE * np.log(0.4) if unit == 0 else 0.0) - stepped * SLOPE * np.log(0.7)
            rating = int(1 + np.searchsorted(CUTS, eta + rng.logistic())) if ratings is None else ratings
            rows.append(
                {
                    "unit_key": f"u{unit:02d}",
                    "unit_id": f"U {unit:02d}",
                    "drained_on": date(2026, 1, 1) + timedelta(days=7 * drain),
                    "oil_hours": hours,
                    "oil_grade": "Fork 5",
                    "filled_ml": 500.0,
                    "drained_ml": None,
                    "settle_hours": None,
                    "debris_low": rating,
                    "debris_high": rating,
                    "colour_low": None,
                    "colour_high": None,
                    "spring_type": "Stepped 46" if stepped else "Plain 46",
                    "spring_hours": None,
                    "rider": str(rng.choice(["Brask", "Ollin", "Tevik"])),
                    "rated_by": None,
                    "surface": None,
                    "site": None,
                    "service_kind": "oil",
                    "line": len(rows) + 2,
                }
            )
    return pl.DataFrame(rows, schema_overrides=_NULLABLE)


_NULLABLE = {
    "drained_ml": pl.Float64,
    "settle_hours": pl.Float64,
    "spring_hours": pl.Float64,
    "colour_low": pl.Int64,
    "colour_high": pl.Int64,
    "rated_by": pl.String,
    "surface": pl.String,
    "site": pl.String,
}


def fitted_fleet(log, settings=None, seed=5):
    found = fit_channel(describe_channel(log, "debris"), settings or Settings(), rng=np.random.default_rng(seed))
    assert not isinstance(found, str), found
    return found


def combinations_of(log):
    """Springs and oils in use, with the conditions of a run-in fill."""
    return (
        log.select("spring_type", "oil_grade")
        .unique()
        .sort("spring_type")
        .with_columns(settling=pl.lit(0.15), freshness=pl.lit(0.0), carry_over=pl.lit(0.0))
    )
