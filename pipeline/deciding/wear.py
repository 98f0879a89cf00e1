"""Wear of every unit in service: where its measured values meet their limits, and what that leaves of this oil.

Two clocks meet here. A part wears over its own hours, an interval counts hours on the oil that runs now. Both run
together, so the part's wear point less its hours when this oil was filled is the wear point in hours on this oil. For
quantities of the oil itself the clock restarts with each fill, and the wear point is in hours on this oil already.
Wear only ever shortens. Reaching it means: inspect and measure, not: ride on with fresh oil.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import polars as pl

from draincurve.pipeline.deciding.part_hours import part_hours_at_fill
from draincurve.pipeline.deciding.quantity_wear import quantity_wear
from draincurve.pipeline.deciding.wear_result import QuantityWear, UnitWear, WearResult
from draincurve.pipeline.deciding.wear_sentences import lower_first
from draincurve.pipeline.describing import (
    LimitKey,
    UnitLimits,
    WearLimit,
    WearSeries,
    parsed_limits,
    unit_limits,
    unknown_quantities,
    wear_series,
    with_fleet_limits,
)
from draincurve.pipeline.fitting import QuantityFits
from draincurve.pipeline.fitting.degradation import fits_of_series
from draincurve.pipeline.reading import reset_days
from draincurve.schemas.quantities import OF_THE_OIL_ONLY
from draincurve.schemas.settings import Settings

CAPS = pl.Schema(
    {
        "unit_key": pl.String,
        "wear_h": pl.Float64,
        "wear_why": pl.String,
        "wear_why_run": pl.String,
        "wear_over_h": pl.Float64,
    }
)
SIGNS = pl.Schema(
    {"unit_key": pl.String, "unit_id": pl.String, "site": pl.String, "drained_on": pl.Date, "signs": pl.String}
)


@dataclass(frozen=True, slots=True)
class WearInputs:
    """Accepted rows that wear is computed from; side tables may be None."""

    measurements: pl.DataFrame
    drains: pl.DataFrame
    oils: pl.DataFrame | None
    usage: pl.DataFrame | None
    parts: pl.DataFrame | None = None
    units: pl.DataFrame | None = None

    @classmethod
    def among(cls, accepted: Mapping[str, pl.DataFrame]) -> WearInputs:
        """Those among the accepted tables of a log that has measurements."""
        sides = [accepted.get(name) for name in ("oils", "usage", "parts", "units")]
        return cls(accepted["measurements"], accepted["drains"], *sides)


def decide_wear(
    inputs: WearInputs,
    state: pl.DataFrame,
    settings: Settings,
    as_of: date,
    *,
    fitted: Mapping[tuple[str, str], QuantityFits] | None = None,
) -> WearResult:
    """All quantities, the caps on the intervals and the signs that call for an inspection.

    state : units in service, as `fleet_state` gives them; fitted : fits by name and unit of a quantity, as far as
    there are. Raises SettingsError for a limit that cannot be read.
    """
    limits = parsed_limits(settings)
    known = inputs.drains.filter(pl.col("drained_on") <= as_of)
    resets = reset_days(inputs.measurements, known, with_new_parts=False)
    limits_by_unit = {} if inputs.parts is None else unit_limits(inputs.parts, state, inputs.units)
    fits = dict(fitted or {})
    series: list[WearSeries] = []
    quantities: list[QuantityWear] = []
    for held, rows in _by_limits(state, limits_by_unit):
        both = with_fleet_limits(held, limits)
        for quantity_series in wear_series(
            inputs.measurements, known, oils=inputs.oils, limits=both, as_of=as_of, rule=settings.laboratory
        ):
            is_own = any(quantity_series.limit == both[key] for key in held)
            if held and not is_own:
                continue
            name = quantity_series.quantity.name, quantity_series.unit
            fits[name] = fits.get(name) or fits_of_series(quantity_series, settings)
            units = rows if held else _without_own(rows, limits_by_unit, name=quantity_series.quantity.name)
            if (
                units.height < rows.height
                and not quantity_series.readings["unit_key"].is_in(units["unit_key"].implode()).any()
            ):
                continue  # only units with a limit of their own were measured
            clocks = part_hours_at_fill(units, quantity_series.readings, resets, known, inputs.usage)
            quantity = quantity_wear(quantity_series, fits[name], units, clocks, settings)
            series.append(quantity_series)
            quantities.append(quantity)
    return WearResult(
        quantities=_with_titles(quantities),
        unknown=unknown_quantities(inputs.measurements),
        unused_limits=_unused(limits, series),
        caps=_caps(quantities, state),
        signs=_signs(series, quantities, resets),
    )


def _by_limits(
    state: pl.DataFrame, limits_by_unit: UnitLimits
) -> list[tuple[dict[LimitKey, WearLimit], pl.DataFrame]]:
    """All units with the fleet's limits, then the units of each set of limits of their own."""
    groups: list[tuple[dict[LimitKey, WearLimit], list[str]]] = []
    for key in state["unit_key"]:
        held = limits_by_unit.get(key)
        if held is None:
            continue
        same = next((keys for limits, keys in groups if limits == held), None)
        if same is None:
            groups.append((held, [key]))
        else:
            same.append(key)
    return [({}, state), *((held, state.filter(pl.col("unit_key").is_in(keys))) for held, keys in groups)]


def _without_own(state: pl.DataFrame, limits_by_unit: UnitLimits, *, name: str) -> pl.DataFrame:
    """Units without a limit of their own of this quantity."""
    others = [key for key, limits in limits_by_unit.items() if any(limit.quantity == name for limit in limits)]
    return state.filter(~pl.col("unit_key").is_in(others))


def _with_titles(quantities: Sequence[QuantityWear]) -> tuple[QuantityWear, ...]:
    """The quantities; where one has several limits, its title says whose limit it is."""
    count = Counter((quantity.name, quantity.unit) for quantity in quantities)
    return tuple(
        replace(quantity, title=f"{quantity.title}, {quantity.limit.source}")
        if count[quantity.name, quantity.unit] > 1 and quantity.limit is not None
        else quantity
        for quantity in quantities
    )


def _unused(limits: Mapping[LimitKey, WearLimit], series: Sequence[WearSeries]) -> tuple[str, ...]:
    """Limits, as typed, of which nothing was measured: perhaps a misspelt name."""
    used = [quantity_series.limit for quantity_series in series if quantity_series.limit is not None]
    return tuple(f"{key.quantity} = '{limit.text}'" for key, limit in limits.items() if limit not in used)


def _caps(quantities: Sequence[QuantityWear], state: pl.DataFrame) -> pl.DataFrame:
    """The shortest hours that any quantity leaves each unit, in the order of `state`."""
    shortest: dict[str, UnitWear] = {}
    for quantity in quantities:
        for unit in quantity.units:
            best = shortest.get(unit.unit_key)
            if unit.allowed_h is not None and (
                best is None or best.allowed_h is None or unit.allowed_h < best.allowed_h
            ):
                shortest[unit.unit_key] = unit
    shortest_of_units = [shortest.get(key) for key in state["unit_key"]]
    rows = [
        (key, None, None, None, None) if unit is None else (key, unit.allowed_h, unit.why, unit.why_run, unit.over_h)
        for key, unit in zip(state["unit_key"], shortest_of_units, strict=True)
    ]
    return pl.DataFrame(rows, schema=CAPS, orient="row")


def _signs(series: Sequence[WearSeries], quantities: Sequence[QuantityWear], resets: pl.DataFrame) -> pl.DataFrame:
    """Units whose latest reading is past a limit and was not followed by a rebuild, one row each."""
    rebuilt = dict(resets.group_by("unit_key").agg(pl.col("reset_on").max()).iter_rows())
    signs_by_unit: dict[str, list[tuple[UnitWear, str]]] = {}
    for quantity_series, quantity in zip(series, quantities, strict=True):
        if quantity_series.quantity.name in OF_THE_OIL_ONLY:
            continue
        for unit in quantity.units:
            cleared = unit.last_on is not None and rebuilt.get(unit.unit_key, date.min) > unit.last_on
            if unit.past_limit and not cleared:
                sign = f"{lower_first(quantity_series.quantity.title)} past its limit"
                signs_by_unit.setdefault(unit.unit_key, []).append((unit, sign))
    rows = [
        (key, reasons[0][0].unit_id, reasons[0][0].site, max(unit.last_on or date.min for unit, _ in reasons),
         ", ".join(dict.fromkeys(text for _, text in reasons)))
        for key, reasons in sorted(signs_by_unit.items())
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=SIGNS, orient="row")


def with_wear(state: pl.DataFrame, wear: WearResult | None) -> pl.DataFrame:
    """Current units with the columns of `WearResult.caps`, and signs of wear among their signs."""
    if wear is None:
        return state
    signs = wear.signs.select("unit_key", pl.col("signs").alias("wear_signs"))
    return (
        state.join(wear.caps, on="unit_key", how="left", maintain_order="left")
        .join(signs, on="unit_key", how="left", maintain_order="left")
        .with_columns(
            pl.concat_str("signs", "wear_signs", separator=", ", ignore_nulls=True).replace("", None).alias("signs")
        )
        .drop("wear_signs")
    )


def with_worn_units(inspect: pl.DataFrame, wear: WearResult | None) -> pl.DataFrame:
    """Units to inspect now with those whose measured values are past a limit: unit_id, site, drained_on, signs."""
    if wear is None or wear.signs.is_empty():
        return inspect
    rows = pl.concat([inspect, wear.signs.select(inspect.columns)])
    return rows.group_by("unit_id", "site", maintain_order=True).agg(
        pl.col("drained_on").max(), pl.col("signs").str.join(", ")
    )


def wear_warnings(wear: WearResult | None) -> tuple[str, ...]:
    """Warnings for a reader who relies on wear being watched, one plain sentence each."""
    if wear is None:
        return ()
    unused = [f"The limit {limit} watches nothing: no reading of it is in the log." for limit in wear.unused_limits]
    unfitted = [
        f"{quantity.title}: no line could be fitted, so its wear is not foreseen ({quantity.why_not})."
        for quantity in wear.quantities
        if quantity.limit is not None and quantity.why_not is not None
    ]
    return (*unused, *unfitted)
