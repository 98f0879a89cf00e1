"""Invented fleets in which a second rater looked at some of the same oil."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
import polars as pl
from scipy.special import logit, ndtr

CUTS = np.array([3.3, 5.2, 7.0, 8.7])
SLOPE, UNIT_SD, LIMIT = 2.4, 0.8, 4
TOGETHER = 0.7
"""Correlation, on the normal scale, of what two ratings of one drain have beside its hours and unit."""

BIAS_SD = 0.8
WAYS = ("KB alone", "TW's row first", "with pairs", "as rows")


class DoubleRated(NamedTuple):
    """drains : KB's rating of each drain; second : TW's of some; effects : of each unit, on the scale of the link"""

    drains: pl.DataFrame
    second: pl.DataFrame
    effects: Mapping[str, float]

    @property
    def by_reference(self) -> tuple[pl.DataFrame, pl.DataFrame]:
        """The drains with TW's rating where there is one, and KB's of these as the second."""
        other = self.second.select("line", *(pl.col(name).alias(f"_{name}") for name in _RATED))
        joined = self.drains.join(other, left_on="line", right_on="line", how="left", maintain_order="left")
        twice = pl.col("_rated_by").is_not_null()
        swapped = joined.with_columns(
            pl.when(twice).then(pl.col(f"_{name}")).otherwise(pl.col(name)).alias(name) for name in _RATED
        ).select(self.drains.columns)
        kept = self.drains.filter(pl.col("line").is_in(self.second["line"].implode()))
        return swapped, _as_second(kept)

    def ways(self) -> Mapping[str, tuple[pl.DataFrame, pl.DataFrame | None]]:
        """Drains and second ratings by the way in which they are used."""
        again = self.drains.join(self.second.select("line", *(pl.col(n).alias(f"_{n}") for n in _RATED)), on="line")
        again = again.with_columns(pl.col(f"_{name}").alias(name) for name in _RATED).select(self.drains.columns)
        both = pl.concat([self.drains, again.with_columns(pl.col("line") + 10_000)])
        ways = (self.drains, None), (self.by_reference[0], None), self.by_reference, (both, None)
        return dict(zip(WAYS, ways, strict=True))


_RATED = ("rated_by", "debris_low", "debris_high")


def double_rated_log(
    rng: np.random.Generator, *, share: float, units: int = 12, drains: int = 8, bias: float | None = None
) -> DoubleRated:
    """A fleet whose drains KB rates all, by `bias` dirtier than TW, who rates a share of them, too."""
    bias = BIAS_SD * float(rng.standard_normal()) if bias is None else bias
    effects = UNIT_SD * rng.standard_normal(units)
    rows, second = [], []
    for unit in range(units):
        for drain in range(drains):
            hours = float(np.round(rng.uniform(6, 24), 1))
            own, other = rng.standard_normal(2)
            noises = logit(ndtr([own, TOGETHER * own + np.sqrt(1 - TOGETHER**2) * other]))
            dirt = SLOPE * np.log(hours) + effects[unit] + np.array([bias, 0.0]) + noises
            first, again = (1 + np.searchsorted(CUTS, dirt)).tolist()
            rows.append(_row(len(rows), unit, drain, hours, first))
            if rng.uniform() < share:
                second.append({"line": rows[-1]["line"], "rated_by": "TW", "debris_low": again, "debris_high": again})
    kinds = dict.fromkeys(("settle_hours", "spring_hours", "drained_ml"), pl.Float64)
    whole = dict.fromkeys(("colour_low", "colour_high"), pl.Int64)
    frame = pl.DataFrame(rows, schema_overrides=kinds | whole | {"surface": pl.String, "site": pl.String})
    names = [f"u{unit:03d}" for unit in range(units)]
    return DoubleRated(frame, pl.DataFrame(second), dict(zip(names, effects.tolist(), strict=True)))


def _row(count: int, unit: int, drain: int, hours: float, rating: int) -> dict[str, object]:
    return {"unit_key": f"u{unit:03d}", "unit_id": f"U{unit:03d}",
            "drained_on": date(2025, 1, 1) + timedelta(days=14 * drain), "oil_hours": hours, "oil_grade": "Fork 5",
            "filled_ml": 500.0, "drained_ml": None, "settle_hours": None, "debris_low": rating,
            "debris_high": rating, "colour_low": None, "colour_high": None, "spring_type": "Plain 46",
            "spring_hours": None, "rider": "Brask", "rated_by": "KB", "surface": None, "site": None,
            "service_kind": "rebuild", "source": "log.csv", "line": count + 2}  # fmt: skip


def _as_second(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select(
        pl.col("source").alias("drain_source"), pl.col("line").alias("drain_line"), *_RATED,
        pl.lit(None, pl.Int64).alias("colour_low"), pl.lit(None, pl.Int64).alias("colour_high"),
    )  # fmt: skip
