"""run.json: the inputs and settings of a run, and how far its fits can be trusted."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

from draincurve.pipeline.deciding import QuantityWear, WearResult
from draincurve.pipeline.judging import ChannelResult, FleetLimit
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading import Log
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import settings_as_dict

TIMING_DECIMALS = 3
MOST_LISTED = 1_000
"""Questions, and notes on whole files, that the record lists; the counts are of all."""
_LISTED = ("source", "line", "column", "value", "message", "proposal", "setting")


def write_run_record(result: PlanResult, path: Path, *, changes: ReportChanges | None = None) -> None:
    """Writes the record as JSON: UTF-8, indented, null for a number that does not exist."""
    text = json.dumps(run_record(result, changes=changes), indent=2, ensure_ascii=False, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")


def run_record(result: PlanResult, *, changes: ReportChanges | None = None) -> dict[str, Any]:
    """The record as plain values. The same inputs give the same record, except for `timings` [s].

    Raises ContractError where the row accounting of an input does not add up.
    """
    for account in result.log.accounts:
        if account.read != account.accepted + account.held_back:
            raise ContractError(
                f"{account.source}: {account.read} rows read, but {account.accepted} accepted and "
                f"{account.held_back} held back; every row must end in exactly one place"
            )
    record = {
        "as_of": result.as_of,
        "log": result.log.name,
        "inputs": [asdict(account) for account in result.log.accounts],
        "settings": settings_as_dict(result.settings),
        "versions": dict(sorted(result.versions.items())),
        "timings": {name: round(seconds, TIMING_DECIMALS) for name, seconds in result.timings.items()},
        "channels": [_channel(channel) for channel in result.judged.channels],
        "left_out": [asdict(left) for left in result.described.left_out],
        "asked": _questions(result.log),
        "assumed": _assumed(result.log),
        **wear_record(result),
        "inspect_now": result.decided.inspect_now.to_dicts(),
        "changes": None if changes is None else asdict(changes),
        "warnings": list(result.warnings),
        "notes": {**result.notes, "reading": _notes(result.log)},
    }
    plain: dict[str, Any] = _json_value(record)
    return plain


def _questions(log: Log) -> dict[str, Any]:
    """The questions: how many there are, how many rows they are about, and the first of them."""
    asked = log.asked
    return {
        "count": asked.height,
        "rows": log.asked_rows,
        "list": asked.select(_LISTED).head(MOST_LISTED).to_dicts(),
    }


def _assumed(log: Log) -> dict[str, Any]:
    """Cells that were read by an assumption: how many there are, and the first notes on them."""
    assumed = log.assumed
    listed = assumed.select("source", "line", "column", "value", "message", "cells").head(MOST_LISTED)
    return {"cells": int(assumed["cells"].sum()), "list": listed.to_dicts()}


def _notes(log: Log) -> list[dict[str, Any]]:
    """Notes on whole files, such as a change of encoding."""
    return log.notes.select("source", "column", "value", "message").head(MOST_LISTED).to_dicts()


def _channel(channel: ChannelResult) -> dict[str, Any]:
    """One channel's fit in numbers."""
    return {
        "channel": channel.channel,
        "limit": channel.limit,
        "rated_drains": channel.ratings.height,
        "why_not": channel.why_not,
        "hours_slope": channel.hours_slope,
        "unit_spread": channel.unit_spread,
        "diagnostics": None if channel.diagnostics is None else asdict(channel.diagnostics),
        "prior_movement": [asdict(moved) | {"ratio": moved.ratio} for moved in channel.prior_movement],
    }


def _json_value(value: Any) -> Any:
    """Values that JSON can hold: dates as ISO text, arrays as lists, null for a number that does not exist."""
    if isinstance(value, dict):
        return {str(key): _json_value(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_json_value(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "tolist"):  # numpy scalars and arrays
        return _json_value(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if isinstance(value, str | int | None) else str(value)


def wear_record(result: PlanResult) -> dict[str, Any]:
    """Plain values, null where nothing was measured or no table of parts was given.

    The projected crossings are `line_middle` with its 90 % range, hours at which a unit's line meets its limit, and
    `wear_hours`, where a reading past the limit reaches the accepted risk; both on the clock that is named.
    """
    decided = result.decided
    return {
        "wear": None if decided.wear is None else _wear_of_log(decided.wear),
        "parts": None if decided.parts is None else decided.parts.to_dicts(),
    }


def _wear_of_log(wear: WearResult) -> dict[str, Any]:
    return {
        "quantities": [_wear_of_quantity(quantity) for quantity in wear.quantities],
        "unknown": [{"quantity": name, "unit": unit, "readings": count} for name, unit, count in wear.unknown],
        "unused_limits": list(wear.unused_limits),
    }


def _wear_of_quantity(quantity: QuantityWear) -> dict[str, Any]:
    return {
        "quantity": quantity.name,
        "title": quantity.title,
        "unit": quantity.unit,
        "clock": quantity.clock,
        "limit": None if quantity.limit is None else quantity.limit.label,
        "limit_from": None if quantity.limit is None else quantity.limit.source,
        "fleet_limit": asdict(quantity.fleet_limit) if isinstance(quantity.fleet_limit, FleetLimit) else None,
        "readings": quantity.readings.height,
        "why_not": quantity.why_not,
        "left_out": list(quantity.left_out),
        "fit": None if quantity.fit is None else asdict(quantity.fit),
        "measured_up_to_h": quantity.farthest_h,
        "units": [
            {name: value for name, value in asdict(unit).items() if name != "unit_key"} for unit in quantity.units
        ],
    }
