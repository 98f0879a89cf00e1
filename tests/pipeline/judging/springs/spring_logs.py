"""Small invented logs for the comparison of springs, in the columns of accepted drains."""

from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.judging.springs.spring_comparison import compare_springs
from draincurve.schemas.settings import Settings

CUTS = np.array([-2.0, -0.2, 1.6, 3.3])
SLOPE = 2.4
FIRST_DAY = date(2025, 1, 6)
CHANGED_FLEET_THRESHOLDS = np.array([-2.5, -1.0, 0.5, 2.0])
TYPES = {
    "drained_on": pl.Date,
    "oil_hours": pl.Float64,
    "filled_ml": pl.Float64,
    "drained_ml": pl.Float64,
    "settle_hours": pl.Float64,
    "spring_hours": pl.Float64,
    "debris_low": pl.Int64,
    "debris_high": pl.Int64,
    "colour_low": pl.Int64,
    "colour_high": pl.Int64,
    "line": pl.Int64,
    "on_shock": pl.Boolean,
}


def drains_frame(rows):
    """Accepted drains from dicts that name unit_id, spring_type and what else matters; the rest is alike."""
    filled = []
    for line, row in enumerate(rows, start=2):
        usual = {
            "line": line,
            "unit_key": row["unit_id"],
            "drained_on": date(2025, 3, 1) + timedelta(days=line),
            "oil_hours": 12.0,
            "oil_grade": "Fork 5",
            "filled_ml": None,
            "drained_ml": None,
            "settle_hours": None,
            "spring_hours": None,
            "rider": "Jost",
            "rated_by": None,
            "surface": None,
            "site": None,
            "chamber": "single",
            "service_kind": "oil",
            "debris": 2,
            "colour": None,
        }
        full = usual | row
        for channel in ("debris", "colour"):
            full[f"{channel}_low"] = full[f"{channel}_high"] = full.pop(channel)
        filled.append(full)
    schema = {name: TYPES.get(name, pl.String) for name in filled[0]}
    return pl.DataFrame(filled, schema=schema)


def rated(rows, seed, effects=None, unit_sd=0.45):
    """The rows with hours and debris ratings drawn; effects : spring or rider -> effect on the scale of the link."""
    rng = np.random.default_rng(seed)
    of_unit = {unit: unit_sd * rng.standard_normal() for unit in dict.fromkeys(row["unit_id"] for row in rows)}
    found = []
    for row in rows:
        hours = float(np.round(13.0 * np.exp(0.4 * rng.standard_normal()), 1))
        eta = SLOPE * np.log(hours / 13.0) + of_unit[row["unit_id"]] + rng.logistic()
        eta += sum((effects or {}).get(row.get(name), 0.0) for name in ("spring_type", "rider"))
        found.append({"oil_hours": hours} | row | {"debris": 1 + int(np.searchsorted(CUTS, eta))})
    return found


def crossed(units, drains, springs=("Plain", "Stepped"), riders=("Jost", "Sunna")):
    """Every unit runs every spring, two drains at a time, and every rider rides all."""
    return [
        {
            "unit_id": f"F{unit:02d}",
            "spring_type": springs[(unit + drain // 2) % len(springs)],
            "rider": riders[(unit + drain) % len(riders)],
        }
        for unit in range(units)
        for drain in range(drains)
    ]


def changed_fleet(units, switched, wear=0.0, effect=0.0, seed=1, drains=10, own_date=False):
    """Units drained every two weeks or so, some of which change from Plain to Stepped: halfway through the log, or
    each at its own sixth drain. `wear` and `effect` are on the scale of the link, per fill and for Stepped."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(units):
        begin, own = FIRST_DAY + timedelta(days=int(rng.integers(60)) if own_date else 0), 0.5 * rng.standard_normal()
        for drain in range(drains):
            hours = 12.0 * np.exp(0.4 * rng.standard_normal())
            stepped = unit < switched and drain >= drains // 2
            predictor = 2.2 * np.log(hours / 12.0) + own + wear * (drain - drains / 2) + effect * stepped
            rows.append(
                {
                    "unit_id": f"F{unit:02d}",
                    "drained_on": begin + timedelta(days=14 * drain + int(rng.integers(5))),
                    "oil_hours": float(hours),
                    "spring_type": "Stepped" if stepped else "Plain",
                    "debris": 1 + int(np.sum(predictor + rng.logistic() > CHANGED_FLEET_THRESHOLDS)),
                }
            )
    return rows


def fitted(rows, channel="debris", settings=None):
    """The channel of a log, fitted."""
    drains = describe_channel(drains_frame(rows), channel)
    return fit_channel(drains, settings or Settings(), rng=np.random.default_rng(1))


def compared(rows, channel="debris", settings=None):
    """The comparison of springs in one channel of a log."""
    settings = settings or Settings()
    (found,) = compare_springs([fitted(rows, channel, settings)], settings, rng=np.random.default_rng(2))
    return found


def pair_of(comparison, first, second):
    """A pair, with the multiplier of `first` against `second` whichever way it stands."""
    for pair in comparison.pairs:
        if (pair.spring_type, pair.compared_with) == (first, second):
            return pair, pair.hours_multiplier
        if (pair.spring_type, pair.compared_with) == (second, first):
            return pair, None if pair.hours_multiplier is None else 1.0 / pair.hours_multiplier
    raise AssertionError(f"{first} and {second} are not compared")
