"""Invented forks of two legs, with an odd leg, swapped entries or hour meters where a test asks for them."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.pipeline.describing.leg_pairs import LegPair
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.settings import Settings

CUTS = np.array([3.3, 5.2, 7.0, 8.7])
SLOPE = 2.4


@dataclass(frozen=True)
class PairOptions:
    """pair_sd, leg_sd : spread between forks and between the legs of one, in log hours ratio; odd : fork to the hours
    ratio of its left leg against the right; swapped : fork to the drain whose entries are swapped; onwards : and all
    after it; meters : each leg has an hour meter of its own."""

    pairs: int = 8
    drains: int = 12
    pair_sd: float = 0.2
    leg_sd: float = 0.08
    odd: tuple[tuple[int, float], ...] = ()
    swapped: tuple[tuple[int, int], ...] = ()
    onwards: bool = False
    meters: bool = False


def leg_log(options=PairOptions(), seed=1):
    """Accepted drains of the forks; both legs are drained on the same days after the same hours."""
    rng = np.random.default_rng(seed)
    odd, swapped = dict(options.odd), dict(options.swapped)
    rows = []
    for pair in range(options.pairs):
        legs = options.pair_sd * rng.standard_normal() + options.leg_sd * rng.standard_normal(2)
        legs = legs + 0.5 * np.log(odd.get(pair, 1.0)) * np.array([1, -1])
        meters = rng.uniform(20, 300, 2)
        for drain in range(options.drains):
            hours = np.round(rng.uniform(6, 24) * np.ones(2), 1)
            meters = meters + hours
            keys = [f"P{pair:03d}L", f"P{pair:03d}R"]
            at = swapped.get(pair)
            if at is not None and (drain == at or (options.onwards and drain > at)):
                keys = keys[::-1]
            for leg in range(2):
                eta = SLOPE * (np.log(hours[leg]) - legs[leg])
                rating = [int(1 + np.searchsorted(CUTS, eta + rng.logistic())) for _ in range(2)]
                rows.append(
                    _row(len(rows), keys[leg], drain, hours[leg], rating, meters[leg] if options.meters else None)
                )
    return pl.DataFrame(rows, schema_overrides=_NULLABLE)


def _row(count, key, drain, hours, rating, meter):
    return {
        "unit_key": key, "unit_id": key, "drained_on": date(2025, 1, 1) + timedelta(days=14 * drain),
        "oil_hours": hours, "meter_hours": meter, "oil_grade": "Fork 5", "filled_ml": 500.0, "drained_ml": None,
        "settle_hours": None, "debris_low": rating[0], "debris_high": rating[0], "colour_low": rating[1],
        "colour_high": rating[1], "spring_type": "Plain 46", "spring_hours": None,
        "rider": ("Brask", "Ollin")[drain % 2], "rated_by": None, "surface": None, "site": None,
        "service_kind": "oil", "line": count + 2,
    }  # fmt: skip


_NULLABLE = {
    "meter_hours": pl.Float64,
    "drained_ml": pl.Float64,
    "settle_hours": pl.Float64,
    "spring_hours": pl.Float64,
    "rated_by": pl.String,
    "surface": pl.String,
    "site": pl.String,
}


def forks(count, **changed):
    """The pairs of the log; `changed` is put into the first of them."""
    pairs = [LegPair(f"bike {pair}", f"P{pair:03d}L", f"P{pair:03d}R") for pair in range(count)]
    return (replace(pairs[0], **changed), *pairs[1:]) if changed else tuple(pairs)


def fits_of(log, channels=("colour", "debris")):
    found = [fit_channel(describe_channel(log, channel), Settings(), rng=stream(5, channel)) for channel in channels]
    assert not any(isinstance(fit, str) for fit in found)
    return found
