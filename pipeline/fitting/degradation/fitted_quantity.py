"""One measured quantity fitted: lines of all units over hours, or a sentence on why there are none."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.degradation.censored_lines import fit_censored
from draincurve.pipeline.fitting.degradation.line_posterior import UnitLines, unit_lines
from draincurve.pipeline.fitting.degradation.linear_mixed_model import DegradationFit, check_sums, fit_degradation
from draincurve.pipeline.fitting.degradation.sums_of_units import unit_sums
from draincurve.pipeline.random_streams import stream
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Settings

SIDES = {"under": -1, "over": 1}
"""Side of its bound on which a reading is known to be."""


@dataclass(frozen=True, slots=True)
class EffectCorrelation:
    """Correlation of a unit's effect on a quantity with its effect on a rated channel.

    median, low, high : of the correlation, with its 5 % and 95 % points; units : that were both rated and measured
    """

    channel: str
    median: float
    low: float
    high: float
    units: int


@dataclass(frozen=True, slots=True)
class WearFit:
    """The fitted line, in the quantity's unit (its log where `log_scale` is true) and hours.

    level : at clock 0, slope : per hour, each with its standard error;  unit_level_sd, unit_slope_sd : between
    units;  noise_sd : of a reading about its line;  note : a sentence on what the readings could not show
    goes_with : the correlation with the channel of the same condition, None where they were not joined
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
    goes_with: EffectCorrelation | None = None


@dataclass(frozen=True, slots=True)
class FittedWear:
    """Lines of a quantity.

    groups : unit_key, part, readings, column (of `lines`): one row for each part, of a fill each unit is one group
    log_scale : whether lines are of the log;  median_h, farthest_h : median and largest clock of the fitted readings
    """

    groups: pl.DataFrame
    lines: UnitLines
    fit: WearFit
    log_scale: bool
    median_h: float
    farthest_h: float


def fits_of_series(series: WearSeries, settings: Settings) -> tuple[FittedWear | str, ...]:
    """The fit of a series and, where samples are in doubt, a second one without them: doubt must lengthen nothing."""
    name = f"wear {series.quantity.name} {series.unit}"
    fits = (fit_wear(series, stream(settings.seed, name)),)
    if not series.readings["in_doubt"].any():
        return fits
    sure = replace(series, readings=series.readings.filter(~pl.col("in_doubt")))
    return (*fits, fit_wear(sure, stream(settings.seed, name)))


def fit_wear(series: WearSeries, rng: np.random.Generator) -> FittedWear | str:
    """The fit of a series; a sentence where its readings do not suffice for a line."""
    log_scale = series.log_scale
    usable = rows_to_fit(series)
    if not usable.height:
        return "no reading has known hours"
    groups = usable.group_by("unit_key", "part", maintain_order=True).agg(pl.len().alias("readings"))
    groups = groups.with_row_index("column")
    unit = usable.join(groups, on=["unit_key", "part"], how="left", maintain_order="left")["column"].to_numpy()
    clock = usable["clock_h"].cast(pl.Float64).to_numpy()
    value = usable["value"].to_numpy()
    response = np.log(value) if log_scale else value
    side = (
        usable.select(pl.col("bound").replace_strict(SIDES, default=0, return_dtype=pl.Int64)).to_series().to_numpy()
    )
    if np.ptp(response) == 0.0:
        return "every reading is the same, so nothing tells how far the next may lie from them"
    try:
        fit, lines = _fitted(response, clock, unit=unit.astype(np.int64), side=side, rng=rng)
    except FitError as reason:
        return str(reason)
    return FittedWear(
        groups,
        lines,
        _summary(fit, log_scale, effective=lines.effective_draws),
        log_scale,
        float(np.median(clock)),
        float(clock.max()),
    )


def rows_to_fit(series: WearSeries) -> pl.DataFrame:
    """What a fit takes of a series: readings of parts as they are, those of one fill as one at their mean hours.

    Readings without known hours are left out. A fill's readings share its oil, so several say no more of other fills
    than one does. One that is only known to be under a bound is left out where its fill has any other.
    """
    readings = series.readings.drop_nulls(["clock_h", "value"])
    if series.log_scale:
        readings = readings.filter(pl.col("value") > 0)
    mean = pl.col("value").log().mean().exp() if series.log_scale else pl.col("value").mean()
    fills = ["unit_key", "part", "fill"]
    under, over = ((pl.col("bound") == side).fill_null(False) for side in SIDES)
    of_oil = readings.filter(pl.col("fill").is_not_null() & (~under | under.all().over(fills)))
    of_fills = of_oil.group_by(fills, maintain_order=True).agg(
        pl.col("unit_id", "site", "in_doubt").last(),
        pl.col("measured_on").max(),
        pl.col("clock_h").mean(),
        mean.alias("value"),
        pl.when(over.any()).then(pl.lit("over")).otherwise(pl.col("bound").first()).alias("bound"),
    )
    return pl.concat([readings.filter(pl.col("fill").is_null()).select(of_fills.columns), of_fills])


def _fitted(
    response: Floats, clock: Floats, *, unit: Integers, side: Integers, rng: np.random.Generator
) -> tuple[DegradationFit, UnitLines]:
    """The fit and the lines; with bounds among the readings by maximum likelihood, else by REML. Raises FitError."""
    if side.any():
        return fit_censored(response, clock, unit=unit, side=side, rng=rng)
    sums = unit_sums(unit, clock=clock, response=response)
    check_sums(sums)
    fit = fit_degradation(response, clock, unit=unit)
    return fit, unit_lines(sums, best=fit.lower, rng=rng)


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
