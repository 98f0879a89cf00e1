"""Small invented fleets for tests of turned units, raters and links: raters who shift or drift, units that turn."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.pipeline.reading.validating.checked_log import SECOND_RATING_COLUMNS

CUTS = np.array([3.3, 5.2, 7.0, 8.7])
SLOPE = 2.4
NO_SECOND = pl.DataFrame(
    schema={
        name: pl.String if name in ("unit_key", "unit_id", "rated_by", "drain_source", "source") else pl.Int64
        for name in SECOND_RATING_COLUMNS
    }
)
LEVEL = 1.8  # one level on the scale of the link: the mean distance of the cuts


@dataclass(frozen=True)
class FleetOptions:
    """raters : by drain and unit, names in turn, or one list for each unit; bias : by rater, in link units;
    drift : by rater, link units a year; turned : unit to the drain from which it runs at `ratio` of the hours; fast :
    units that did from the start; rebuilt : unit and drain."""

    units: int = 10
    drains: int = 16
    spread: float = 0.5
    raters: tuple[str, ...] = ("KB", "TW", "MO")
    own_units: bool = False
    bias: tuple[tuple[str, float], ...] = ()
    drift: tuple[tuple[str, float], ...] = ()
    turned: tuple[tuple[int, int], ...] = ()
    ratio: float = 0.5
    fast: tuple[int, ...] = ()
    rebuilt: tuple[tuple[int, int], ...] = ()
    days: int = 14
    link: str = "logit"


def watched_log(options=FleetOptions(), seed=1):
    rng = np.random.default_rng(seed)
    effects = options.spread * rng.standard_normal(options.units)
    bias, drift, turned = dict(options.bias), dict(options.drift), dict(options.turned)
    noise = {"logit": rng.logistic, "probit": rng.normal, "cloglog": rng.gumbel}[options.link]
    rows = []
    for unit in range(options.units):
        for drain in range(options.drains):
            place = unit if options.own_units else int(rng.integers(len(options.raters)))
            rater = options.raters[place % len(options.raters)]
            hours = float(np.round(rng.uniform(6, 24), 1))
            years = drain * options.days / 365.25
            eta = SLOPE * np.log(hours) + effects[unit] + bias.get(rater, 0.0) + drift.get(rater, 0.0) * years
            half = unit in options.fast or drain >= turned.get(unit, options.drains)
            eta -= SLOPE * np.log(options.ratio) if half else 0.0
            rating = int(1 + np.searchsorted(CUTS, eta + noise()))
            rows.append(_row(len(rows), unit, drain, hours, rating, rater, options))
    return pl.DataFrame(rows, schema_overrides=_NULLABLE)


def _row(count, unit, drain, hours, rating, rater, options):
    return {
        "unit_key": f"u{unit:03d}",
        "unit_id": f"U{unit:03d}",
        "drained_on": date(2025, 1, 1) + timedelta(days=options.days * drain),
        "oil_hours": hours,
        "oil_grade": "Fork 5",
        "filled_ml": 500.0,
        "drained_ml": None,
        "settle_hours": None,
        "debris_low": rating,
        "debris_high": rating,
        "colour_low": None,
        "colour_high": None,
        "spring_type": "Stepped 46" if (unit + drain) % 2 else "Plain 46",
        "spring_hours": None,
        "rider": ("Brask", "Ollin")[(unit + drain // 2) % 2],
        "rated_by": rater,
        "surface": None,
        "site": None,
        "service_kind": "rebuild" if (unit, drain) in options.rebuilt else "oil",
        "source": "log.csv",
        "line": count + 2,
    }


_NULLABLE = {
    "drained_ml": pl.Float64,
    "settle_hours": pl.Float64,
    "spring_hours": pl.Float64,
    "colour_low": pl.Int64,
    "colour_high": pl.Int64,
    "surface": pl.String,
    "site": pl.String,
}
