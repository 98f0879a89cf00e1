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
from draincurve.pipeline.deciding.wear_channel import wear_channel
from draincurve.pipeline.deciding.wear_result import UnitWear, WearChannel, WearResult
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

CAPS = pl.Schema({"unit_key": pl.String, "wear_h": pl.Float64, "wear_why": pl.String})
SIGNS = pl.Schema(
    {"unit_key": pl.String, "unit_id": pl.String, "site": pl.String, "drained_on": pl.Date, "signs": pl.String}
)


@dataclass(frozen=True, slots=True)
class WearInputs:
    """Accepted rows that wear rests on; side tables may be None."""

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
    """All channels, the caps on the intervals and the signs that ask for an inspection.

    state : units in service, as `fleet_state` gives them; fitted : fits by name and unit of a quantity, as far as
    there are. Raises SettingsError for a limit that cannot be read.
    """
    limits = parsed_limits(settings)
    known = inputs.drains.filter(pl.col("drained_on") <= as_of)
    resets = reset_days(inputs.measurements, known, with_new_parts=False)
    own = {} if inputs.parts is None else unit_limits(inputs.parts, state, inputs.units)
    fits = dict(fitted or {})
    series: list[WearSeries] = []
    channels: list[WearChannel] = []
    for held, rows in _by_limits(state, own):
        both = with_fleet_limits(held, limits)
        for one in wear_series(
            inputs.measurements, known, oils=inputs.oils, limits=both, as_of=as_of, rule=settings.laboratory
        ):
            is_own = any(one.limit == both[key] for key in held)
            if held and not is_own:
                continue
            name = one.quantity.name, one.unit
            fits[name] = fits.get(name) or fits_of_series(one, settings)
            units = rows if held else _without_own(rows, own, name=one.quantity.name)
            if units.height < rows.height and not one.readings["unit_key"].is_in(units["unit_key"].implode()).any():
                continue  # only units with a limit of their own were measured
            clocks = part_hours_at_fill(units, one.readings, resets, known, inputs.usage)
            found = wear_channel(one, fits[name], units, clocks, settings)
            series.append(one)
            channels.append(found)
    return WearResult(
        channels=_with_titles(channels),
        unknown=unknown_quantities(inputs.measurements),
        unused_limits=_unused(limits, series),
        caps=_caps(channels, state),
        signs=_signs(series, channels, resets),
    )


def _by_limits(state: pl.DataFrame, own: UnitLimits) -> list[tuple[dict[LimitKey, WearLimit], pl.DataFrame]]:
    """All units with the fleet's limits, then the units of each set of limits of their own."""
    groups: list[tuple[dict[LimitKey, WearLimit], list[str]]] = []
    for key in state["unit_key"]:
        held = own.get(key)
        if held is None:
            continue
        same = next((keys for limits, keys in groups if limits == held), None)
        if same is None:
            groups.append((held, [key]))
        else:
            same.append(key)
    return [({}, state), *((held, state.filter(pl.col("unit_key").is_in(keys))) for held, keys in groups)]


def _without_own(state: pl.DataFrame, own: UnitLimits, *, name: str) -> pl.DataFrame:
    """Units without a limit of their own of this quantity."""
    others = [key for key, limits in own.items() if any(one.quantity == name for one in limits)]
    return state.filter(~pl.col("unit_key").is_in(others))


def _with_titles(channels: Sequence[WearChannel]) -> tuple[WearChannel, ...]:
    """The channels, with whose limit it is in the title where a quantity has several."""
    count = Counter((channel.name, channel.unit) for channel in channels)
    return tuple(
        replace(channel, title=f"{channel.title}, {channel.limit.source}")
        if count[channel.name, channel.unit] > 1 and channel.limit is not None
        else channel
        for channel in channels
    )


def _unused(limits: Mapping[LimitKey, WearLimit], series: Sequence[WearSeries]) -> tuple[str, ...]:
    """Limits, as typed, of which nothing was measured: perhaps a slip of the name."""
    used = [one.limit for one in series if one.limit is not None]
    return tuple(f"{key.quantity} = '{limit.text}'" for key, limit in limits.items() if limit not in used)


def _caps(channels: Sequence[WearChannel], state: pl.DataFrame) -> pl.DataFrame:
    """The shortest hours that any channel leaves each unit, in the order of `state`."""
    shortest: dict[str, UnitWear] = {}
    for channel in channels:
        for unit in channel.units:
            best = shortest.get(unit.unit_key)
            if unit.allowed_h is not None and (
                best is None or best.allowed_h is None or unit.allowed_h < best.allowed_h
            ):
                shortest[unit.unit_key] = unit
    found = [shortest.get(key) for key in state["unit_key"]]
    rows = [
        (key, None if unit is None else unit.allowed_h, None if unit is None else unit.why)
        for key, unit in zip(state["unit_key"], found, strict=True)
    ]
    return pl.DataFrame(rows, schema=CAPS, orient="row")


def _signs(series: Sequence[WearSeries], channels: Sequence[WearChannel], resets: pl.DataFrame) -> pl.DataFrame:
    """Units whose latest reading is past a limit and was not followed by a rebuild, one row each."""
    rebuilt = dict(resets.group_by("unit_key").agg(pl.col("reset_on").max()).iter_rows())
    found: dict[str, list[tuple[UnitWear, str]]] = {}
    for one, channel in zip(series, channels, strict=True):
        if one.quantity.name in OF_THE_OIL_ONLY:
            continue
        for unit in channel.units:
            cleared = unit.last_on is not None and rebuilt.get(unit.unit_key, date.min) > unit.last_on
            if unit.past_limit and not cleared:
                sign = f"{lower_first(one.quantity.title)} past its limit"
                found.setdefault(unit.unit_key, []).append((unit, sign))
    rows = [
        (key, said[0][0].unit_id, said[0][0].site, max(unit.last_on or date.min for unit, _ in said),
         ", ".join(dict.fromkeys(text for _, text in said)))
        for key, said in sorted(found.items())
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=SIGNS, orient="row")


def with_wear(state: pl.DataFrame, wear: WearResult | None) -> pl.DataFrame:
    """Current units with wear_h [h on the oil that runs now], wear_why, and signs of wear among their signs."""
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
        f"{channel.title}: no line could be fitted, so its wear is not foreseen ({channel.why_not})."
        for channel in wear.channels
        if channel.limit is not None and channel.why_not is not None
    ]
    return (*unused, *unfitted)
