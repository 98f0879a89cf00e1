"""One measured quantity fitted: lines of all units over hours, or a sentence on why there are none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.degradation import (
    DegradationFit,
    UnitLines,
    check_sums,
    fit_degradation,
    unit_lines,
    unit_sums,
)
from draincurve.schemas.errors import FitError


@dataclass(frozen=True, slots=True)
class WearFit:
    """The fitted line, in the channel's unit (its log where `log` is true) and hours.

    level : at clock 0, slope : per hour, each with its standard error;  unit_level_sd, unit_slope_sd : between
    units;  noise_sd : of a reading about its line;  note : a sentence on what the readings could not show
    """

    log_scale: bool
    level: tuple[float, float]
    slope: tuple[float, float]
    unit_level_sd: float
    unit_slope_sd: float
    noise_sd: float
    log_likelihood: float
    effective_draws: float | None
    note: str


@dataclass(frozen=True, slots=True)
class FittedWear:
    """Lines of a quantity.

    groups : unit_key, part, readings, column (of `lines`): one row for each part, of a fill each unit is one group
    log : whether lines are of the log;  farthest_h : largest clock among the fitted readings
    """

    groups: pl.DataFrame
    lines: UnitLines
    fit: WearFit
    log_scale: bool
    farthest_h: float


def fit_wear(series: WearSeries, rng: np.random.Generator) -> FittedWear | str:
    """The fit of a series; a sentence where its readings cannot carry a line."""
    usable = series.readings.drop_nulls(["clock_h", "value"])
    log_scale = series.quantity.scale == "log" and not series.unit.startswith("%")
    if log_scale:
        usable = usable.filter(pl.col("value") > 0)
    if not usable.height:
        return "no reading has known hours"
    groups = usable.group_by("unit_key", "part", maintain_order=True).agg(pl.len().alias("readings"))
    groups = groups.with_row_index("column")
    unit = usable.join(groups, on=["unit_key", "part"], how="left", maintain_order="left")["column"].to_numpy()
    clock = usable["clock_h"].cast(pl.Float64).to_numpy()
    value = usable["value"].to_numpy()
    response = np.log(value) if log_scale else value
    if np.ptp(response) == 0.0:
        return "every reading is the same, so nothing tells how far the next may lie from them"
    sums = unit_sums(unit.astype(np.int64), clock=clock, response=response)
    try:
        check_sums(sums)
        fit = fit_degradation(response, clock, unit=unit.astype(np.int64))
    except FitError as reason:
        return str(reason)
    lines = unit_lines(sums, best=fit.lower, rng=rng)
    return FittedWear(
        groups, lines, _summary(fit, log_scale, effective=lines.effective_draws), log_scale, float(clock.max())
    )


def _summary(fit: DegradationFit, log_scale: bool, *, effective: float | None) -> WearFit:
    unit_sd = np.sqrt(np.maximum(np.diag(fit.unit_covariance), 0.0))
    return WearFit(
        log_scale=log_scale,
        level=(float(fit.coefficients[0]), float(fit.standard_errors[0])),
        slope=(float(fit.coefficients[1]), float(fit.standard_errors[1])),
        unit_level_sd=float(unit_sd[0]),
        unit_slope_sd=float(unit_sd[1]),
        noise_sd=float(np.sqrt(fit.residual_variance)),
        log_likelihood=fit.log_likelihood,
        effective_draws=effective,
        note=fit.why,
    )
