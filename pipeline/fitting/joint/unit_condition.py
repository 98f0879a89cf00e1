"""One condition of a unit: measured quantities joined with the rated channels that they correlate with.

A laboratory's iron and a tray's debris are two looks at one unit. Where they agree over the fleet, a value of iron
tells of the unit's debris and so of its interval, and a dirty tray tells of its line of iron. Where they do not, the
correlation is about 0 and both stay what they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.degradation.fitted_quantity import EffectCorrelation, FittedWear
from draincurve.pipeline.fitting.degradation.line_updates import with_known_distances
from draincurve.pipeline.fitting.joint.joint_fit import JointFit, effects_given_readings
from draincurve.pipeline.fitting.joint.measured_effects import (
    KnownEffects,
    coefficients_of,
    correlation_draws,
    known_effects,
)
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import CHANNELS

FEWEST_UNITS = 3
"""With fewer units that have both, a correlation is not estimated."""

Fits = dict[str, ChannelFit]
QuantityFits = tuple[FittedWear | str, ...]


@dataclass(frozen=True, slots=True)
class _QuantityEvidence:
    """Evidence of a quantity on units, at `at_h`.

    columns : of each unit among the lines, (U,); known : what its own readings say of it, in sd between units; sd :
    that sd, in the units of the readings
    """

    columns: Integers
    at_h: float
    known: KnownEffects
    sd: float


def with_conditions_joined(
    fits: Fits,
    joint: JointFit | None,
    series: Sequence[WearSeries],
    quantities: Sequence[QuantityFits],
    *,
    rng: np.random.Generator,
) -> tuple[Fits, JointFit | None, tuple[QuantityFits, ...]]:
    """Channels and quantities, each updated by the other.

    quantities : fits of each series; readings in doubt do not count for a channel: they could lengthen an interval.
    Only channels that are joined themselves take part, and of each the first of its quantities that has a fit.
    """
    if joint is None or joint.effects is None:
        return fits, joint, tuple(quantities)
    updated = list(quantities)
    keys, effects = list(joint.unit_keys), joint.effects
    coefficients = np.zeros((*effects.shape[1:], 4))
    for side, channel in enumerate(joint.channels):
        index = _quantity_of(channel, series, quantities)
        if index is None:
            continue
        main_fit = quantities[index][-1]
        assert isinstance(main_fit, FittedWear), "a quantity with a fit is chosen"
        evidence = _evidence_at_median_hours(main_fit, keys)
        rated = known_effects(effects[side].mean(axis=0), effects[side].var(axis=0))
        both = int((np.isfinite(evidence.known.error_variance) & np.isfinite(rated.error_variance)).sum())
        if both < FEWEST_UNITS:
            continue
        rho = correlation_draws(rated, evidence.known, high=1.0, low=1.0, draws=effects.shape[1], rng=rng)
        coefficients[:, :, 2 * side : 2 * side + 2] = coefficients_of(evidence.known, rho)
        low, median, high = np.quantile(rho, (0.05, 0.5, 0.95)).tolist()
        correlation = EffectCorrelation(channel, median, low, high, both)
        updated[index] = tuple(
            fit if isinstance(fit, str) else _with_ratings(fit, keys, rated, rho, correlation)
            for fit in quantities[index]
        )
    if coefficients.any():
        fits, joint = effects_given_readings(fits, joint, coefficients, rng=rng)
    return fits, joint, tuple(updated)


def _quantity_of(channel: str, series: Sequence[WearSeries], quantities: Sequence[QuantityFits]) -> int | None:
    """Index of the first quantity that is joined with a channel and has a fit."""
    names = next(item.measured_by for item in CHANNELS if item.name == channel)
    order = [index for name in names for index, item in enumerate(series) if item.quantity.name == name]
    return next((index for index in order if isinstance(quantities[index][-1], FittedWear)), None)


def _evidence_at_median_hours(fit: FittedWear, keys: Sequence[str]) -> _QuantityEvidence:
    """Evidence of the readings alone on units at the fit's median hours."""
    lines, columns = fit.lines, _columns(fit, keys)
    at_h = fit.median_h
    value = lines.level + at_h * lines.slope
    distance = value - value[:, -1:]
    variance = lines.level_variance + 2 * at_h * lines.covariance + at_h**2 * lines.slope_variance
    sd = float(np.sqrt(variance[:, -1].mean()))
    mean, variances = distance.mean(axis=0) / sd, (variance.mean(axis=0) + distance.var(axis=0)) / sd**2
    known = known_effects(mean[columns], np.where(columns == lines.new_unit, 1.0, variances[columns]))
    return _QuantityEvidence(columns, at_h, known, sd)


def _with_ratings(
    fit: FittedWear, keys: Sequence[str], rated: KnownEffects, rho: Floats, correlation: EffectCorrelation
) -> FittedWear:
    """The lines given what the ratings say of each unit; rated units without readings get lines of their own."""
    evidence = _evidence_at_median_hours(fit, keys)
    linear, quadratic = np.moveaxis(coefficients_of(rated, rho).mean(axis=0), -1, 0)
    informative = quadratic > 0
    distance = evidence.sd * np.divide(linear, quadratic, out=np.zeros_like(linear), where=informative)
    variance = np.divide(evidence.sd**2, quadratic, out=np.full_like(quadratic, np.inf), where=informative)
    lines, line_of_unit = with_known_distances(
        fit.lines, evidence.columns, at_h=evidence.at_h, distance=distance, error=variance
    )
    new = np.flatnonzero((evidence.columns == fit.lines.new_unit) & (line_of_unit != lines.new_unit))
    unread = pl.DataFrame(
        {"column": line_of_unit[new], "unit_key": [keys[unit] for unit in new.tolist()], "part": 0, "readings": 0},
        schema=fit.groups.schema,
    )
    summary = replace(fit.fit, goes_with=correlation)
    return replace(fit, fit=summary, lines=lines, groups=pl.concat([fit.groups, unread]))


def _columns(fit: FittedWear, keys: Sequence[str]) -> Integers:
    """Column of each unit among the lines, that of a new unit where it has no readings of its oil."""
    column_of = dict(fit.groups.select("unit_key", "column").iter_rows())
    return np.array([column_of.get(key, fit.lines.new_unit) for key in keys], dtype=np.int64)
