"""The backtest of measured quantities: at each origin fit the readings before it, predict the later ones, score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy.special import betainc

from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.degradation import fit_wear, rows_to_fit
from draincurve.pipeline.holm import holm
from draincurve.pipeline.judging.backtest.baseline_predictions import FLEET_BY_HOURS_READ, FLEET_READ
from draincurve.pipeline.judging.backtest.binomial_intervals import LEVEL, wilson_interval
from draincurve.pipeline.judging.backtest.forecast_windows import FEWEST_BEFORE, FEWEST_PREDICTED, Window, windows
from draincurve.pipeline.judging.backtest.interval_coverage import NOMINAL, share_between
from draincurve.pipeline.judging.backtest.measured_predictions import (
    PredictedReadings,
    on_scale,
    predicted_readings,
    values_at_like_hours,
)
from draincurve.pipeline.judging.backtest.proper_scores import continuous_scores
from draincurve.pipeline.judging.backtest.quantity_backtest import MeasuredBacktest, QuantityBacktest, RangeCoverage
from draincurve.pipeline.judging.backtest.risk_calibration import RiskCheck, risk_check
from draincurve.pipeline.judging.backtest.rolling_origin import MOST_DRAINS, ORIGINS, some_units
from draincurve.pipeline.judging.backtest.score_comparison import compared
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.stopwatch import Progress, silent
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.backtest_measured_table import COLUMNS
from draincurve.schemas.quantities import Worse
from draincurve.schemas.settings import Settings

SIDES = {"under": -1, "over": 1}


@dataclass(frozen=True, slots=True)
class _Scored:
    """Readings of one window with their predictions and scores, (n,) each."""

    window: Window
    predicted: PredictedReadings
    ours: Floats
    fleet: Floats
    by_hours: Floats


def backtest_measured(
    series: Sequence[WearSeries],
    settings: Settings,
    *,
    origins: int = ORIGINS,
    progress: Progress = silent,
) -> MeasuredBacktest:
    """How earlier predictions of measured values would have held.

    series : measured quantities of the whole log; origins : most dates as of which to fit; progress : called with the
    name of each stage. Samples in doubt are left out.
    """
    backtests: list[QuantityBacktest] = []
    without: list[tuple[str, str]] = []
    tables: list[pl.DataFrame] = []
    notes: list[str] = []
    for one in series:
        rng = stream(settings.seed, f"backtest {one.quantity.name} {one.unit}")
        fit_rows = rows_to_fit(one).filter(~pl.col("in_doubt"))
        chosen, note = some_units(fit_rows, MOST_DRAINS, rng=rng)
        dates = windows(chosen["measured_on"], origins, of="reading")
        if isinstance(dates, str):
            without.append((one.quantity.title, dates))
            continue
        scored = _scored(one, chosen, dates, rng=rng, progress=progress)
        if sum(part.ours.size for part in scored) < FEWEST_PREDICTED:
            without.append((one.quantity.title, "too few readings came after enough others to predict them from"))
            continue
        notes += [] if note is None else [f"{one.quantity.title}: {note}"]
        result, rows = _result(one, scored, settings, rng=rng)
        backtests.append(result)
        tables.append(rows)
    return MeasuredBacktest(
        _with_understated(backtests, settings.accepted_risk),
        tuple(without),
        "; ".join(notes) or None,
        pl.concat(tables) if tables else pl.DataFrame(schema=list(COLUMNS)),
    )


def _scored(
    series: WearSeries,
    fit_rows: pl.DataFrame,
    dates: Sequence[Window],
    *,
    rng: np.random.Generator,
    progress: Progress,
) -> list[_Scored]:
    """Scored predictions for the windows with enough readings before them, a line through these, and one inside."""
    scored = []
    for number, (window, window_rng) in enumerate(zip(dates, rng.spawn(len(dates)), strict=True), start=1):
        before, inside = fit_rows.filter(window.before("measured_on")), fit_rows.filter(window.inside("measured_on"))
        if inside.height == 0 or before.height < FEWEST_BEFORE:
            continue
        progress(f"backtest, {series.quantity.name}, {number} of {len(dates)}")
        fitted = fit_wear(replace(series, readings=before), window_rng)
        if isinstance(fitted, str):
            continue
        predicted = predicted_readings(fitted, inside)
        values, known = (on_scale(table["value"], log_scale=series.log_scale) for table in (predicted.rows, before))
        side = _bound_sides(predicted.rows)
        like = values_at_like_hours(before["clock_h"].to_numpy(), known, hours=predicted.rows["clock_h"].to_numpy())
        scored.append(
            _Scored(
                window,
                predicted,
                continuous_scores(predicted.points, values, side=side),
                continuous_scores(np.sort(known)[None, :], values, side=side),
                np.array(
                    [
                        continuous_scores(
                            np.sort(values_before)[None, :], values[row : row + 1], side=side[row : row + 1]
                        )[0]
                        for row, values_before in enumerate(like)
                    ]
                ),
            )
        )
    return scored


def _bound_sides(rows: pl.DataFrame) -> Integers:
    sides = pl.col("bound").replace_strict(SIDES, default=0, return_dtype=pl.Int64)
    return np.asarray(rows.select(sides).to_series().to_numpy())


def _result(
    series: WearSeries, scored: list[_Scored], settings: Settings, *, rng: np.random.Generator
) -> tuple[QuantityBacktest, pl.DataFrame]:
    """One quantity's result, with `understated` still to be set, and its rows of the table."""
    factor, score_unit = (100.0, "% of the value") if series.log_scale else (1.0, series.unit)
    rows = pl.concat([part.predicted.rows.with_columns(origin=pl.lit(part.window.origin)) for part in scored])
    points = np.vstack([np.quantile(part.predicted.points, (0.05, 0.5, 0.95), axis=1).T for part in scored])
    under, ours, fleet, by_hours = (
        np.concatenate(parts)
        for parts in zip(
            *((window.predicted.under, window.ours, window.fleet, window.by_hours) for window in scored), strict=True
        )
    )
    side, units = _bound_sides(rows), rows["unit_key"].to_numpy()
    ours, fleet, by_hours = factor * ours, factor * fleet, factor * by_hours
    start, end = np.where(side < 0, 0.0, under), np.where(side > 0, 1.0, under)
    result = QuantityBacktest(
        name=series.quantity.name,
        title=series.quantity.title,
        unit=series.unit,
        score_unit=score_unit,
        origins=tuple(part.window.origin for part in scored),
        readings=rows.height,
        units=rows["unit_key"].n_unique(),
        score=float(ours.mean()),
        fleet=compared(FLEET_READ, ours, theirs=fleet, units=units, rng=rng),
        fleet_by_hours=compared(FLEET_BY_HOURS_READ, ours, theirs=by_hours, units=units, rng=rng),
        coverage=tuple(_coverage(nominal, start, end) for nominal in NOMINAL),
        worse=_worse(start, end, worse=series.quantity.worse, accepted=settings.accepted_risk),
        understated=False,
    )
    low, middle, high = (np.exp(points) if series.log_scale else points).T
    table = rows.with_columns(
        pl.lit(series.quantity.name).alias("quantity"),
        pl.lit(series.unit).alias("unit"),
        *(
            pl.Series(name, values)
            for name, values in {
                "low": low,
                "middle": middle,
                "high": high,
                "p_under": np.clip(under, 0.0, 1.0),
                "score": ours,
                "score_fleet": fleet,
                "score_fleet_by_hours": by_hours,
            }.items()
        ),
    ).select(COLUMNS)
    return result, table


def _coverage(nominal: float, start: Floats, end: Floats) -> RangeCoverage:
    inside = share_between(start, end, nominal=nominal)
    return RangeCoverage(nominal, float(inside.mean()), *wilson_interval(float(inside.sum()), inside.size))


def _worse(start: Floats, end: Floats, *, worse: Worse, accepted: float) -> RiskCheck | None:
    """Readings beyond the bound at the accepted risk, without censored ones of which that is not known.

    start, end : probability of a value under the reading, which is the same twice unless it is a bound
    """
    tail = accepted / 2.0 if worse == "either" else accepted
    none = np.zeros(start.size, dtype=bool)
    rising, falling = worse != "falling", worse != "rising"
    surely = (start > 1.0 - tail if rising else none) | (end < tail if falling else none)
    perhaps = (end > 1.0 - tail if rising else none) | (start < tail if falling else none)
    known = surely == perhaps
    return risk_check(np.full(int(known.sum()), accepted), surely[known].astype(np.float64))


def _with_understated(backtests: Sequence[QuantityBacktest], accepted: float) -> tuple[QuantityBacktest, ...]:
    """The results with a binomial test of the readings beyond the bound, corrected for their number."""
    checks = [check.worse for check in backtests]
    chances = [
        float(betainc(check.past, check.drains - check.past + 1, accepted))
        if check is not None and check.past
        else 1.0
        for check in checks
    ]
    adjusted = holm(chances)
    return tuple(
        replace(check, understated=chance <= (1.0 - LEVEL) / 2)
        for check, chance in zip(backtests, adjusted, strict=True)
    )
