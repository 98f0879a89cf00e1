"""One section for each unit: what set its interval, its drains, and a picture where it says something."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.judging.evidence import ChannelResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.drain_evidence import DrainEvidence
from draincurve.reports.content.sections.unit_chances import unit_chances
from draincurve.reports.content.service_rows import FASTER, SLOWER, ServiceRow
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.unit_history_figure import RatedDrain, UnitHistory, draw_unit_history
from draincurve.reports.figures.unit_risk_panel import UnitChance

MOST_PICTURES = 32
DRAW_ALL_UP_TO = 20
FEWEST_DRAINS = 3


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
    partner: ServiceRow | None
    why: str
    evidence: tuple[str, ...]
    cost_interval: str
    inspect: str
    drains: tuple[DrainRow, ...]
    picture: Picture | None

    @property
    def any_rater(self) -> bool:
        """Whether any drain says who rated it."""
        return any(drain.rated_by for drain in self.drains)

    @property
    def any_note(self) -> bool:
        """Whether any drain carries a remark."""
        return any(drain.note for drain in self.drains)


def unit_sections(
    figure: Figure,
    result: PlanResult,
    rows: Sequence[ServiceRow],
    names: UnitNames,
    why: dict[str, str],
    evidence: DrainEvidence,
) -> tuple[UnitSection, ...]:
    """Sections in the order of `rows`; the soonest due of those worth a picture get one."""
    drains = _drains_by_unit(result, names)
    inspect = {_name(names, cells): str(cells["signs"]) for cells in result.inspect_now.iter_rows(named=True)}
    costs = {
        _name(names, cells): wording.number(cells["cost_interval_h"])
        for cells in result.unit_reasons.iter_rows(named=True)
    }
    partners = _partners(result, rows)
    chances = unit_chances(result, names)
    sections = []
    pictures_left = MOST_PICTURES
    for row in rows:
        own = drains.get(row.name, [])
        picture = None
        if pictures_left and _worth_a_picture(row, len(own), len(rows), row.name in inspect):
            chance = chances.of_unit(row, partners.get(row.name))
            picture = _picture(figure, result.channels, row, own, chance)
            pictures_left -= picture is not None
        cost = costs.get(row.name)
        sections.append(
            UnitSection(
                row=row,
                partner=partners.get(row.name),
                why=why.get(row.name, ""),
                evidence=evidence.sentences(row.name),
                cost_interval="" if cost is None else wording.hours(cost),
                inspect=inspect.get(row.name, ""),
                drains=tuple(_drain_row(result.channels, cells) for cells in reversed(own)),
                picture=picture,
            )
        )
    return tuple(sections)


def units_out_of_service(result: PlanResult, rows: Sequence[ServiceRow], names: UnitNames) -> list[str]:
    """Units with drains in the log that are not in the next-service table."""
    logged = {names.of(unit_id, site) for unit_id, site in result.drains.select("unit_id", "site").iter_rows()}
    return sorted(logged - {row.name for row in rows})


def _name(names: UnitNames, cells: dict[str, Any]) -> str:
    return names.of(cells["unit_id"], cells["site"])


def _worth_a_picture(row: ServiceRow, drains: int, units: int, inspect: bool) -> bool:
    if drains < FEWEST_DRAINS:
        return False
    called = row.standing in (FASTER, SLOWER) or row.turned
    return units <= DRAW_ALL_UP_TO or called or inspect


def _drains_by_unit(result: PlanResult, names: UnitNames) -> dict[str, list[dict[str, Any]]]:
    by_unit: dict[str, list[dict[str, Any]]] = {}
    for cells in result.drains.sort("drained_on", "oil_hours", maintain_order=True).iter_rows(named=True):
        by_unit.setdefault(_name(names, cells), []).append(cells)
    return by_unit


def _drain_row(channels: Sequence[ChannelResult], cells: dict[str, Any]) -> DrainRow:
    hours = wording.number(cells["oil_hours"])
    found = [_rating(cells, channel) for channel in channels]
    return DrainRow(
        drained_on=wording.day(wording.as_date(cells["drained_on"])),
        oil_hours=wording.UNKNOWN if hours is None else f"{hours:.1f}",
        ratings=tuple(_rating_words(pair) for pair in found),
        past=tuple(
            pair is not None and pair[0] >= channel.limit for pair, channel in zip(found, channels, strict=True)
        ),
        oil_grade=_text(cells, "oil_grade"),
        spring_type=_text(cells, "spring_type"),
        rider=_text(cells, "rider"),
        rated_by=_text(cells, "rated_by"),
        note=_remark(cells),
    )


def _rating(cells: dict[str, Any], channel: ChannelResult) -> tuple[int, int] | None:
    """Lowest and highest level a rating may mean, None where the drain was not rated."""
    low, high = cells[f"{channel.channel}_low"], cells[f"{channel.channel}_high"]
    return None if low is None or high is None else (int(low), int(high))


def _rating_words(pair: tuple[int, int] | None) -> str:
    if pair is None:
        return "–"
    return str(pair[0]) if pair[0] == pair[1] else f"{pair[0]}–{pair[1]}"


def _text(cells: dict[str, Any], column: str) -> str:
    value = cells.get(column)
    return "" if value is None else str(value)


def _remark(cells: dict[str, Any]) -> str:
    """Signs, a service that is no plain oil change, new parts and the note, in one line."""
    said = [name for name in ("milky", "burnt", "leak") if cells.get(name) is True]
    kind, parts, note = (_text(cells, name) for name in ("service_kind", "new_parts", "note"))
    said += [kind] if kind not in ("", "oil") else []
    said += [f"new: {parts}"] if parts else []
    return ", ".join([*said, *([note] if note else [])])


def _partners(result: PlanResult, rows: Sequence[ServiceRow]) -> dict[str, ServiceRow]:
    """The row of the other leg of the same machine, where both are in service."""
    if result.legs is None:
        return {}
    by_name = {row.name: row for row in rows}
    pairs = result.legs.partners.items()
    return {unit: by_name[other] for unit, other in pairs if unit in by_name and other in by_name}


def _picture(
    figure: Figure,
    channels: Sequence[ChannelResult],
    row: ServiceRow,
    drains: list[dict[str, Any]],
    chance: UnitChance | None,
) -> Picture | None:
    histories = []
    for channel in channels:
        rated = tuple(
            RatedDrain(float(cells["oil_hours"]), *pair)
            for cells in drains
            if cells["oil_hours"] is not None and (pair := _rating(cells, channel)) is not None
        )
        if rated:
            histories.append(UnitHistory(channel.channel, channel.limit, rated))
    if not histories:
        return None
    span = None
    if row.interval_low_h is not None and row.interval_high_h is not None:
        span = (row.interval_low_h, row.interval_high_h)
    draw_unit_history(figure, histories, row.interval_h, span, chance)
    title = f"{row.name}: chance of oil past fit and ratings, by hours on the oil"
    described = "; ".join(
        f"{history.channel}: {sum(drain.low >= history.limit for drain in history.drains)} of "
        f"{len(history.drains)} at or past {history.limit}"
        for history in histories
    )
    return inline_picture(figure, row.anchor, title, f"{described}. Interval {wording.hours(row.interval_h)}.")
