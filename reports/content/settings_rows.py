"""The settings of a run and what they mean, and the assumptions behind the answer, in sentences."""

from __future__ import annotations

from dataclasses import dataclass, is_dataclass
from typing import Any

import polars as pl

from draincurve.reports.content import wording
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.checked_settings import keys_of
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One setting as it was used; `changed` where it is not the default."""

    name: str
    value: str
    meaning: str
    changed: bool


def setting_rows(settings: Settings) -> tuple[SettingRow, ...]:
    """Every setting; keys in a table of the TOML file are named [table] key."""
    return tuple(_rows(settings, Settings(), table=""))


def assumptions(settings: Settings, unit_reasons: pl.DataFrame) -> tuple[str, ...]:
    """What the answer is based on; unit_reasons : as in Decided, for why costs set no interval."""
    minutes = 60.0 * settings.standard_settle_hours
    sentences = [
        f"Oil is past fit when {_past_fit(settings)}. An interval is the longest run at which that chance stays "
        f"within {wording.percent(settings.accepted_risk)}, then limited by the caps and rounded down to "
        f"{settings.step_h:g} h.",
        "One drain is one look at one fill: a clean drain says only that the limit is still ahead, a dirty one only "
        "that it has already been passed.",
        "Interval ranges are the 5 % and 95 % points before a limit is applied and before rounding down, so an "
        "interval that a limit shortens may be below its own range.",
        "An hours ratio compares a unit with the fleet's typical unit on the same spring, oil and rider. Few drains "
        "pull it towards 1.",
        f"A sample without a settling time is taken as rated after {minutes:.0f} minutes.",
        f"No interval goes beyond {settings.data_range_factor:g} times the longest fill ever drained on that spring.",
        "Missing data never moves a date later.",
    ]
    if settings.costs.change is None:
        sentences.append("No costs are set, so there is no cost interval.")
    else:
        sentences.append(
            "A cost interval is where the costs of changing on time and of changing late are least together. It can "
            "shorten an interval, never lengthen one."
        )
    return (*sentences, *_without_cost_interval(unit_reasons))


def _without_cost_interval(unit_reasons: pl.DataFrame) -> list[str]:
    """Why costs set no interval, once for all units with the same reason."""
    counted = unit_reasons.filter(pl.col("cost_why") != "").group_by("cost_why", maintain_order=True).len()
    units = wording.counted(unit_reasons.height, "unit")
    return [f"{wording.sentence(why)[:-1]} ({number} of {units})." for why, number in counted.iter_rows()]


def _past_fit(settings: Settings) -> str:
    first, *others = ((channel.name, f"{settings.limit_rating(channel.name)} or worse") for channel in CHANNELS)
    return ", or ".join([f"{first[0]} is rated {first[1]}", *(f"{name} {limit}" for name, limit in others)])


def _rows(settings: Any, defaults: Any, *, table: str) -> list[SettingRow]:
    rows: list[SettingRow] = []
    for key, default in zip(keys_of(settings), keys_of(defaults), strict=True):
        if is_dataclass(key.value):
            rows += _rows(key.value, default.value, table=key.name)
            continue
        name = f"[{table}] {key.name}" if table else key.name
        rows.append(SettingRow(name, _value_text(key.value), key.rules.get("why", ""), key.value != default.value))
    return rows


def _value_text(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, dict):
        return "; ".join(f"{word} = {rating}" for word, rating in value.items()) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)
