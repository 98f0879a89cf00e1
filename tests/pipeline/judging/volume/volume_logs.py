"""Invented volumes of a fleet: drains that leave oil behind, and leaks and steps where a test plants them."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

BEGIN = date(2025, 1, 1)
FILL = 520.0


@dataclass(frozen=True)
class VolumeOptions:
    """missing : constant share; noise, stayed : standard deviations [ml] of readings and of what stays behind;
    leaks : unit to ml/h; steps : unit to (drain from which it is so, share); hours : range [h]."""

    units: int = 8
    drains: int = 10
    missing: float = 0.05
    noise: float = 4.0
    stayed: float = 0.0
    leaks: tuple[tuple[int, float], ...] = ()
    steps: tuple[tuple[int, int, float], ...] = ()
    hours: tuple[float, float] = (8.0, 24.0)


def volume_log(options=VolumeOptions(), seed=1):
    """Accepted drains; what stays behind at one comes out at the next."""
    rng = np.random.default_rng(seed)
    leaks, steps = dict(options.leaks), {unit: (drain, share) for unit, drain, share in options.steps}
    rows = []
    for unit in range(options.units):
        stayed = options.stayed * rng.standard_normal(options.drains + 1)
        for drain in range(options.drains):
            hours = round(float(rng.uniform(*options.hours)), 1)
            begin, share = steps.get(unit, (options.drains, 0.0))
            missing = FILL * (share if drain >= begin else options.missing) + leaks.get(unit, 0.0) * hours
            missing += stayed[drain + 1] - stayed[drain] + options.noise * rng.standard_normal()
            rows.append(volume_row(len(rows), f"U{unit:02d}", drain, hours, round(FILL - missing, 0)))
    return frame(rows)


def volume_row(line, unit, drain, hours, drained, **more):
    return {
        "unit_key": unit, "drained_on": BEGIN + timedelta(days=10 * drain), "line": line + 2, "oil_hours": hours,
        "filled_ml": FILL, "drained_ml": drained, "service_kind": "oil", "leak": None, "note": None,
        "drain_method": None,
    } | more  # fmt: skip


def frame(rows):
    kinds = {"oil_hours": pl.Float64, "filled_ml": pl.Float64, "drained_ml": pl.Float64, "leak": pl.Boolean}
    kinds |= {"note": pl.String, "drain_method": pl.String}
    return pl.DataFrame(rows, schema_overrides=kinds)


def one_unit(drained, hours=None, **last):
    """A single unit's drains; `last` is put into its last row."""
    hours = hours or list(np.linspace(10, 20, len(drained)))
    rows = [
        volume_row(at, "U00", at, float(h), float(d)) for at, (h, d) in enumerate(zip(hours, drained, strict=True))
    ]
    rows[-1] |= last
    return frame(rows)
