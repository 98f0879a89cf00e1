"""Hours ridden per day by each unit, with its uncertainty; thinly used units shrink to their site's rate.

A unit's exposure is its hours over its days: from the usage log, else from its drains (hours on the oil
over the days between two drains). Hours come in lumps, so over D days they vary by dispersion x rate x D (a
compound Poisson process). The rate of a unit is its own, weighed against its site's by the credibility Z =
D / (D + s2 / t2), with s2 the variance of one day and t2 the variance between units of a site, estimated
from the fleet. References: Buhlmann & Straub (1970), Glaubwuerdigkeit fuer Schadensaetze; Buhlmann & Gisler
(2005), A Course in Credibility Theory, ch. 4 (formulas from memory, held by a test on simulated fleets).
"""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.describing import by_unit_batches, oil_changes
from draincurve.schemas.array_types import Booleans, Floats, Indices

WINDOW_DAYS = 365
"""Days of usage that count: older usage says little about this season's riding."""

RIDING_DAY_H = 4.0
"""Dispersion of hours where the log shows none: one riding day of a track school or race team (common practice)."""

BETWEEN_CV = 0.5
BETWEEN_WEIGHT = 5
"""A priori rates of a site's units differ by half their mean, with the weight of BETWEEN_WEIGHT units (our choice:
the variance estimated from a small fleet is often zero, which would make every unit's rate certain)."""

CAUTIOUS_POINT = 1.2815515655446004
"""Standard normal 90 % point: what is not known is counted at this many standard deviations over the expected."""

RATE_COLUMNS = {
    "unit_key": pl.String,
    "hours_per_day": pl.Float64,
    "rate_variance": pl.Float64,
    "day_variance": pl.Float64,
    "borrowed_days": pl.Float64,
    "rate_from": pl.String,
}


def known_usage(usage: pl.DataFrame | None, as_of: date) -> pl.DataFrame:
    """Usage up to `as_of`, one row per unit and day: unit_key, date, hours [h], filled (a blank was replaced).

    A day logged without hours counts as the longest day in the log (RIDING_DAY_H where no hours are known
    at all): unknown is never safe.
    """
    if usage is None:
        return pl.DataFrame(
            schema={"unit_key": pl.String, "date": pl.Date, "hours": pl.Float64, "filled": pl.Boolean}
        )
    seen = usage.filter(pl.col("date") <= as_of)
    longest = seen["hours"].max()
    stand_in = float(longest) if isinstance(longest, int | float) and longest > 0 else RIDING_DAY_H
    return (
        seen.with_columns(pl.col("hours").is_null().alias("filled"), pl.col("hours").fill_null(stand_in))
        .group_by("unit_key", "date")
        .agg(pl.col("hours").sum(), pl.col("filled").any())
        .sort("unit_key", "date")
    )


def riding_rates(state: pl.DataFrame, drains: pl.DataFrame, days: pl.DataFrame) -> pl.DataFrame:
    """One row per row of `state`, in its order: the columns of RATE_COLUMNS.

    days : as `known_usage` gives it.  hours_per_day [h/day], null where the fleet has no data;
    rate_variance [(h/day)^2] is the uncertainty of the rate, day_variance [h^2/day] the variance of single
    days; borrowed_days the days of its own that count as much as its site; rate_from is "usage", "drains", "site",
    "fleet" or "none". A unit without hours of its own gets
    the 90 % point of its site's units (else the fleet's), not their mean: unknown is never safe.
    """
    units = state.select("unit_key", pl.col("site").fill_null("").alias("site"))
    from_usage, usage_dispersion = _usage_exposure(days)
    from_drains, drain_dispersion = _drain_exposure(drains)
    by_unit = units.join(from_usage, on="unit_key", how="left", maintain_order="left").join(
        from_drains, on="unit_key", how="left", maintain_order="left", suffix="_drains"
    )
    by_usage = by_unit["days"].is_not_null()
    hours = by_unit.select(pl.coalesce("hours", "hours_drains").fill_null(0.0)).to_series().to_numpy()
    length = by_unit.select(pl.coalesce("days", "days_drains").fill_null(0.0)).to_series().to_numpy()
    dispersion = np.where(
        by_usage.to_numpy(),
        usage_dispersion or drain_dispersion or RIDING_DAY_H,
        drain_dispersion or usage_dispersion or RIDING_DAY_H,
    )
    rate, variance, borrowed, source = _credibility(by_unit["site"].to_numpy(), hours, length, dispersion)
    names = np.where(source == "own", np.where(by_usage.to_numpy(), "usage", "drains"), source)
    return pl.DataFrame(
        {
            "unit_key": units["unit_key"],
            "hours_per_day": rate,
            "rate_variance": variance,
            "day_variance": dispersion * rate,
            "borrowed_days": borrowed,
            "rate_from": names.tolist(),
        },
        schema=RATE_COLUMNS,
        nan_to_null=True,
    )


def _usage_exposure(days: pl.DataFrame) -> tuple[pl.DataFrame, float]:
    """Hours and days of each unit in its last year of usage, and the dispersion of hours [h].

    The log begins and ends on a logged day, so n rows over a span have n - 1 gaps: n gaps of that length
    are the days.
    """
    recent = days.filter(pl.col("date") > pl.col("date").max().over("unit_key") - pl.duration(days=WINDOW_DAYS))
    span = (pl.col("date").max() - pl.col("date").min()).dt.total_days()
    exposure = recent.group_by("unit_key").agg(
        pl.col("hours").sum(),
        pl.when(pl.len() > 1).then(span * pl.len() / (pl.len() - 1)).otherwise(1.0).alias("days"),
    )
    hours = recent["hours"].to_numpy()
    total = float(hours.sum())
    return exposure, float(np.square(hours).sum()) / total if total > 0 else 0.0


def _drain_exposure(drains: pl.DataFrame) -> tuple[pl.DataFrame, float]:
    """Hours and days between drains of each unit, and the dispersion of hours [h], 0 where it cannot be estimated."""
    fills = by_unit_batches(oil_changes(drains, ["unit_key", "drained_on", "oil_hours"]), _fills)
    exposure = fills.group_by("unit_key").agg(pl.col("hours").sum(), pl.col("days").sum())
    freedom = fills.height - exposure.height
    if freedom <= 0:
        return exposure, 0.0
    expected = pl.col("days") * pl.col("hours").sum().over("unit_key") / pl.col("days").sum().over("unit_key")
    pearson = fills.select(((pl.col("hours") - expected) ** 2 / expected).sum()).item()
    return exposure, float(pearson) / freedom


def _fills(changes: pl.DataFrame) -> pl.DataFrame:
    """Hours of each fill and days since the drain before it: unit_key, hours [h], days."""
    return (
        changes.sort("unit_key", "drained_on", maintain_order=True)
        .with_columns(pl.col("drained_on").diff().over("unit_key").dt.total_days().alias("days"))
        .filter((pl.col("days") > 0) & pl.col("oil_hours").is_not_null())
        .select("unit_key", pl.col("oil_hours").alias("hours"), pl.col("days").cast(pl.Float64))
    )


def _credibility(
    sites: NDArray[np.object_], hours: Floats, days: Floats, dispersion: Floats
) -> tuple[Floats, Floats, Floats, NDArray[np.object_]]:
    """Rate, its variance, borrowed days and source for every unit; NaN and "none" where there is no data."""
    ridden = days > 0
    source: NDArray[np.object_] = np.full(days.size, "none", dtype=object)
    if not ridden.any():
        unknown = np.full(days.size, np.nan)
        return unknown, unknown, unknown, source
    names, site = np.unique(sites.astype(str), return_inverse=True)
    site_days = np.bincount(site, days, names.size)
    fleet_mean = float(hours.sum() / days.sum())
    seen = site_days > 0
    mean = np.where(seen, np.bincount(site, hours, names.size) / np.where(seen, site_days, 1.0), fleet_mean)
    between = _variance_between(site, hours, days, mean, dispersion, ridden)
    within = np.maximum(dispersion * mean[site], 1e-12)
    trust = days * between / (days * between + within)
    site_variance = dispersion * mean[site] / np.where(seen, site_days, days.sum())[site]
    rate = np.where(ridden, trust * hours / np.where(ridden, days, 1.0) + (1 - trust) * mean[site], 0.0)
    variance = between * (1 - trust) + np.square(1 - trust) * site_variance
    unseen = mean[site] + CAUTIOUS_POINT * np.sqrt(between + site_variance)
    source[ridden] = "own"
    source[~ridden] = np.where(seen[site], "site", "fleet")[~ridden]
    return np.where(ridden, rate, unseen), variance, within / between, source


def _variance_between(
    site: Indices,
    hours: Floats,
    days: Floats,
    mean: Floats,
    dispersion: Floats,
    ridden: Booleans,
) -> float:
    """Variance between units of a site, shrunk towards BETWEEN_CV, since few units may agree by chance."""
    expected_variance = (BETWEEN_CV * float(hours.sum() / days.sum())) ** 2
    units_at = np.bincount(site[ridden], minlength=mean.size)
    freedom = int(ridden.sum() - (units_at > 0).sum())
    if freedom == 0:
        return max(expected_variance, 1e-12)
    squares_sum = float((np.square(hours[ridden] / days[ridden] - mean[site[ridden]]) * days[ridden]).sum())
    expected = float((dispersion[ridden] * mean[site[ridden]]).mean()) * freedom
    site_days = np.bincount(site, days, mean.size)
    squares = np.bincount(site, np.square(days), mean.size)
    scale = float(days.sum() - (squares[site_days > 0] / site_days[site_days > 0]).sum())
    between = max((squares_sum - expected) / scale, 0.0)
    return max((between * freedom + expected_variance * BETWEEN_WEIGHT) / (freedom + BETWEEN_WEIGHT), 1e-12)
