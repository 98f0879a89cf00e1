"""One section for each unit: what set its interval, its drains, and a picture where it says something."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from matplotlib.figure import Figure

from pipeline.plan_result import PlanResult
from reports.figures.svg_picture import Picture, inline_picture
from reports.figures.unit_history import RatedDrain, UnitHistory, draw_unit_history
from reports.page import words
from reports.page.drain_evidence import DrainEvidence
from reports.page.service_rows import FASTER, SLOWER, ServiceRow

MOST_PICTURES = 48
DRAW_ALL_UP_TO = 20
FEWEST_DRAINS = 3

Key = tuple[str, Any, float]


@dataclass(frozen=True, slots=True)
class DrainRow:
    """One drain in words; `ratings` and `past` run beside the report's channels."""

    drained_on: str
    oil_hours: str
    ratings: tuple[str, ...]
    past: tuple[bool, ...]
    oil_grade: str
    spring_type: str
    rider: str
    rated_by: str
    note: str


@dataclass(frozen=True, slots=True)
class UnitSection:
    """Everything the page says about one unit in service."""

    row: ServiceRow
    why: str
    evidence: str
    cost_interval: str
    inspect: str
    drains: tuple[DrainRow, ...]
    picture: Picture | None

    @property
    def any_rater(self) -> bool:
        return any(drain.rated_by for drain in self.drains)

    @property
    def any_note(self) -> bool:
        return any(drain.note for drain in self.drains)


def unit_sections(
    figure: Figure,
    result: PlanResult,
    rows: Sequence[ServiceRow],
    why: dict[str, str],
    evidence: DrainEvidence,
) -> tuple[UnitSection, ...]:
    """Sections in the order of `rows`; the soonest due of those worth a picture get one."""
    ratings = _ratings_by_drain(result)
    drains = _drains_by_unit(result)
    inspect = {str(cells["unit_id"]): str(cells["signs"]) for cells in result.inspect_now.iter_rows(named=True)}
    costs = {
        str(cells["unit_id"]): words.number(cells["cost_interval_h"])
        for cells in result.unit_reasons.iter_rows(named=True)
    }
    sections = []
    pictures_left = MOST_PICTURES
    for row in rows:
        own = drains.get(row.unit_id, [])
        picture = None
        if pictures_left and _worth_a_picture(row, len(own), len(rows), row.unit_id in inspect):
            picture = _picture(figure, result, row, own, ratings)
            pictures_left -= picture is not None
        cost = costs.get(row.unit_id)
        sections.append(
            UnitSection(
                row=row,
                why=why.get(row.unit_id, ""),
                evidence=evidence.sentence(row.unit_id, row.set_by),
                cost_interval="" if cost is None else words.hours(cost),
                inspect=inspect.get(row.unit_id, ""),
                drains=tuple(_drain_row(result, cells, ratings) for cells in reversed(own)),
                picture=picture,
            )
        )
    return tuple(sections)


def units_out_of_service(result: PlanResult, rows: Sequence[ServiceRow]) -> list[str]:
    """Units with drains in the log that are not in the next-service table."""
    in_service = {row.unit_id for row in rows}
    return sorted(set(result.drains["unit_id"].cast(str).to_list()) - in_service)


def _worth_a_picture(row: ServiceRow, drains: int, units: int, inspect: bool) -> bool:
    if drains < FEWEST_DRAINS:
        return False
    called = row.standing in (FASTER, SLOWER) or row.turned
    return units <= DRAW_ALL_UP_TO or called or inspect or row.past_interval


def _key(cells: dict[str, Any]) -> Key:
    return (str(cells["unit_id"]), words.as_date(cells["drained_on"]), round(float(cells["oil_hours"]), 6))


def _ratings_by_drain(result: PlanResult) -> dict[str, dict[Key, tuple[int, int]]]:
    """Ratings of each channel by unit, date and hours, which name a drain after cleaning."""
    return {
        channel.channel: {
            _key(cells): (int(cells["rating_low"]), int(cells["rating_high"]))
            for cells in channel.ratings.iter_rows(named=True)
        }
        for channel in result.channels
    }


def _drains_by_unit(result: PlanResult) -> dict[str, list[dict[str, Any]]]:
    by_unit: dict[str, list[dict[str, Any]]] = {}
    for cells in result.drains.sort("drained_on", "oil_hours", maintain_order=True).iter_rows(named=True):
        by_unit.setdefault(str(cells["unit_id"]), []).append(cells)
    return by_unit


def _drain_row(result: PlanResult, cells: dict[str, Any], ratings: dict[str, dict[Key, tuple[int, int]]]) -> DrainRow:
    hours = words.number(cells["oil_hours"])
    found = [ratings[channel.channel].get(_key(cells)) if hours is not None else None for channel in result.channels]
    drained_on: date | None = words.as_date(cells["drained_on"])
    return DrainRow(
        drained_on=words.day(drained_on),
        oil_hours=words.UNKNOWN if hours is None else f"{hours:.1f}",
        ratings=tuple(_rating_words(pair) for pair in found),
        past=tuple(
            pair is not None and pair[0] >= channel.limit
            for pair, channel in zip(found, result.channels, strict=True)
        ),
        oil_grade=_text(cells, "oil_grade"),
        spring_type=_text(cells, "spring_type"),
        rider=_text(cells, "rider"),
        rated_by=_text(cells, "rated_by"),
        note=_signs_and_note(cells),
    )


def _rating_words(pair: tuple[int, int] | None) -> str:
    if pair is None:
        return "–"
    return str(pair[0]) if pair[0] == pair[1] else f"{pair[0]}–{pair[1]}"


def _text(cells: dict[str, Any], column: str) -> str:
    value = cells.get(column)
    return "" if value is None else str(value)


def _signs_and_note(cells: dict[str, Any]) -> str:
    signs = [name for name in ("milky", "burnt", "leak") if cells.get(name) is True]
    return ", ".join([*signs, *(text for text in [_text(cells, "note")] if text)])


def _picture(
    figure: Figure,
    result: PlanResult,
    row: ServiceRow,
    drains: list[dict[str, Any]],
    ratings: dict[str, dict[Key, tuple[int, int]]],
) -> Picture | None:
    histories = []
    for channel in result.channels:
        rated = []
        for cells in drains:
            pair = ratings[channel.channel].get(_key(cells)) if cells["oil_hours"] is not None else None
            if pair is not None:
                rated.append(RatedDrain(float(cells["oil_hours"]), *pair))
        if rated:
            histories.append(UnitHistory(channel.channel, channel.limit, tuple(rated)))
    if not histories:
        return None
    span = None
    if row.interval_low_h is not None and row.interval_high_h is not None:
        span = (row.interval_low_h, row.interval_high_h)
    draw_unit_history(figure, histories, row.interval_h, span)
    title = f"{row.unit_id}: ratings by hours on the oil"
    described = "; ".join(
        f"{history.channel}: {sum(drain.low >= history.limit for drain in history.drains)} of "
        f"{len(history.drains)} at or past {history.limit}"
        for history in histories
    )
    return inline_picture(figure, row.anchor, title, f"{described}. Interval {words.hours(row.interval_h)}.")
