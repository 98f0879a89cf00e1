"""Iron of invented units that goes with their debris by a known correlation."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from draincurve.pipeline.describing import WearSeries
from draincurve.schemas.quantities import QUANTITY_OF

if TYPE_CHECKING:
    from tests.pipeline.fitting.joint.joined_channels import Drains


def iron_of(
    drains: Drains, rho: float, *, readings: int, units: int, seed: int, in_doubt: bool = False
) -> WearSeries:
    """Iron of the first units, a reading of each of some fills: 40 mg/kg at 12 h. Where rho is 1, it is a fifth more
    in a unit whose effect on debris is one sd more."""
    rng = np.random.default_rng(seed)
    own = rho * drains.effects[1] + np.sqrt(1 - rho**2) * rng.standard_normal(drains.effects.shape[1])
    rows = []
    for unit in range(units):
        for fill in range(readings):
            hours = 12.0 * np.exp(0.3 * rng.standard_normal())
            value = 10.0 + 2.5 * hours + 8.0 * own[unit] + 2.0 * rng.standard_normal()
            key = f"u{unit:03d}"
            rows.append((key, key, None, date(2025, 3, 1), value, hours, 0, True, None, fill, in_doubt))
    names = "unit_key unit_id site measured_on value clock_h part now bound fill in_doubt"
    schema_overrides = {"bound": pl.String, "site": pl.String}
    frame = pl.DataFrame(rows, schema=names.split(), orient="row", schema_overrides=schema_overrides)
    return WearSeries(QUANTITY_OF["iron"], "mg/kg", None, frame, 0)
