"""Wear and parts in run.json: each quantity with its limit, fit and units, and every part with its date."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from draincurve.pipeline.deciding import WearChannel, WearResult
from draincurve.pipeline.judging import FleetLimit
from draincurve.pipeline.report import Report


def wear_record(result: Report) -> dict[str, Any]:
    """Plain values, null where nothing was measured or no table of parts was given.

    The projected crossings are `line_middle` with its 90 % range, hours at which a unit's line meets its limit, and
    `wear_hours`, where a reading past the limit reaches the accepted risk; both on the clock that is named.
    """
    decided = result.decided
    return {
        "wear": None if decided.wear is None else _wear(decided.wear),
        "parts": None if decided.parts is None else decided.parts.to_dicts(),
    }


def _wear(wear: WearResult) -> dict[str, Any]:
    return {
        "quantities": [_quantity(channel) for channel in wear.channels],
        "unknown": [{"quantity": name, "unit": unit, "readings": count} for name, unit, count in wear.unknown],
        "unused_limits": list(wear.unused_limits),
    }


def _quantity(channel: WearChannel) -> dict[str, Any]:
    return {
        "quantity": channel.name,
        "title": channel.title,
        "unit": channel.unit,
        "clock": channel.clock,
        "limit": None if channel.limit is None else channel.limit.words,
        "limit_from": None if channel.limit is None else channel.limit.source,
        "fleet_limit": asdict(channel.fleet_limit) if isinstance(channel.fleet_limit, FleetLimit) else None,
        "readings": channel.readings.height,
        "why_not": channel.why_not,
        "left_out": list(channel.left_out),
        "fit": None if channel.fit is None else asdict(channel.fit),
        "measured_up_to_h": channel.farthest_h,
        "units": [
            {name: value for name, value in asdict(unit).items() if name != "unit_key"} for unit in channel.units
        ],
    }
