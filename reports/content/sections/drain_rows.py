"""The drains of each unit, one row each, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import polars as pl

from draincurve.pipeline.judging import ChannelResult
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import UnitNames
from draincurve.schemas.columns import SIGNS, TOP_UP


@dataclass(frozen=True, slots=True)
class DrainRow:
    """One drain in words; `ratings` and `past` are in the order of the report's channels."""

    drained_on: str
    oil_hours: str
    ratings: tuple[str, ...]
    past: tuple[bool, ...]
    oil_grade: str
    spring_type: str
    rider: str
    rated_by: str
    note: str
    top_up: bool = False

    def rated_text(self, channels: Sequence[str]) -> str:
        """Day, hours and ratings; channels : their names, in the order of the ratings."""
        hours = self.oil_hours if self.oil_hours == wording.UNKNOWN else f"{self.oil_hours} h"
        rated = ", ".join(
            f"{name} {'▲ ' if past else ''}{rating}"
            for name, rating, past in zip(channels, self.ratings, self.past, strict=True)
        )
        return f"{self.drained_on}: {hours}; {rated}"


def drains_by_unit(drains: pl.DataFrame, names: UnitNames) -> dict[str, list[dict[str, Any]]]:
    """Cells of every drain by the unit's name, in order of date."""
    by_unit: dict[str, list[dict[str, Any]]] = {}
    for cells in drains.sort("drained_on", "oil_hours", maintain_order=True).iter_rows(named=True):
        by_unit.setdefault(names.of(cells["unit_id"], cells["site"]), []).append(cells)
    return by_unit


def drain_row(cells: dict[str, Any], channels: Sequence[ChannelResult]) -> DrainRow:
    """One drain in words."""
    hours = wording.finite_number(cells["oil_hours"])
    ratings = [rating_range(cells, channel.channel) for channel in channels]
    return DrainRow(
        drained_on=wording.day(wording.as_date(cells["drained_on"])),
        oil_hours=wording.UNKNOWN if hours is None else f"{hours:.1f}",
        ratings=tuple(_rating_text(rating) for rating in ratings),
        past=tuple(
            rating is not None and rating[0] >= channel.limit
            for rating, channel in zip(ratings, channels, strict=True)
        ),
        oil_grade=_text(cells, "oil_grade"),
        spring_type=_text(cells, "spring_type"),
        rider=_text(cells, "rider"),
        rated_by=_text(cells, "rated_by"),
        note=_note(cells),
        top_up=cells["service_kind"] == TOP_UP,
    )


def rating_range(cells: dict[str, Any], channel: str) -> tuple[int, int] | None:
    """Lowest and highest level that a rating may mean; None for a drain without one."""
    low, high = cells[f"{channel}_low"], cells[f"{channel}_high"]
    return None if low is None or high is None else (int(low), int(high))


def _rating_text(rating: tuple[int, int] | None) -> str:
    if rating is None:
        return "–"
    low, high = rating
    return str(low) if low == high else f"{low}–{high}"


def _text(cells: dict[str, Any], column: str) -> str:
    value = cells.get(column)
    return "" if value is None else str(value)


def _note(cells: dict[str, Any]) -> str:
    """Signs, an open question, a service that is not a plain oil change, new parts and the note, in one line."""
    parts = [name for name in SIGNS if cells.get(name) is True]
    if cells.get("hours_in_question") is True:
        parts.append("asked about")
    service_kind, new_parts, note = (_text(cells, name) for name in ("service_kind", "new_parts", "note"))
    if service_kind not in ("", "oil"):
        parts.append(service_kind)
    if new_parts:
        parts.append(f"new: {new_parts}")
    if note:
        parts.append(note)
    return ", ".join(parts)
