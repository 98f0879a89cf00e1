"""One unit's picture: its fills, springs, ratings and next service over the calendar, and its risk by hours."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.deciding import OIL, UnitCurve
from draincurve.pipeline.judging import ChannelResult, RiskCurve
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading import SPRING_FITTED
from draincurve.reports.content import wording
from draincurve.reports.content.sections.drain_rows import rating_range
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.figures.running_fill import RunningFill
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.unit_risk_figure import RatedDrain, UnitHistory, UnitRisk
from draincurve.reports.figures.unit_timeline_figure import Fill, UnitTimeline, draw_unit_timeline
from draincurve.schemas.next_service_table import FASTER, SLOWER

DRAW_ALL_UP_TO = 20
FEWEST_DRAINS = 3
_SPRING_FITTED = re.compile(SPRING_FITTED)


@dataclass(frozen=True, slots=True)
class UnitCurves:
    """Risk curves by unit's name and channel, and the fleet's by channel, spring and oil."""

    units: Mapping[str, Mapping[str, UnitCurve]]
    fleet: Mapping[tuple[str, str, str], RiskCurve]
    accepted_risk: float

    def risk_of(self, row: ServiceRow, partner: ServiceRow | None) -> UnitRisk | None:
        """Curves of the oil or, of a log with one channel, of that; None without a curve."""
        by_channel = self.units.get(row.name, {})
        if not by_channel:
            return None
        channel = OIL if OIL in by_channel else next(iter(by_channel))
        return UnitRisk(
            own=by_channel[channel],
            fleet=self.fleet.get((channel, row.spring_type or "", row.oil_grade or "")),
            partner=None if partner is None else self.units.get(partner.name, {}).get(channel),
            accepted_risk=self.accepted_risk,
            now_h=row.hours_on_oil,
        )


def curves_by_unit(result: PlanResult, names: UnitNames) -> UnitCurves:
    """All curves of one run, to be looked up unit by unit."""
    units: dict[str, dict[str, UnitCurve]] = {}
    for curve in result.decided.unit_curves:
        units.setdefault(names.of(curve.unit_id, curve.site), {})[curve.channel] = curve
    fleet = {
        (channel.channel, curve.spring_type, curve.oil_grade): curve
        for channel in result.judged.channels
        for curve in channel.curves
    }
    return UnitCurves(units, fleet, result.settings.accepted_risk)


def worth_a_picture(row: ServiceRow, drains: int, *, units: int, inspect: bool) -> bool:
    """Every unit of a small fleet; of a large one, those called, turned or to inspect."""
    called = row.standing in (FASTER, SLOWER) or row.turned
    return drains >= FEWEST_DRAINS and (units <= DRAW_ALL_UP_TO or called or inspect)


def unit_histories(drains: Sequence[dict[str, Any]], channels: Sequence[ChannelResult]) -> list[UnitHistory]:
    """The unit's rated drains with known hours, one history for each channel that has any."""
    histories = []
    for channel in channels:
        rated = tuple(
            RatedDrain(float(cells["oil_hours"]), *rating)
            for cells in drains
            if cells["oil_hours"] is not None and (rating := rating_range(cells, channel.channel)) is not None
        )
        if rated:
            histories.append(UnitHistory(channel.channel, channel.limit, rated))
    return histories


def unit_timeline(
    row: ServiceRow, drains: Sequence[dict[str, Any]], channels: Sequence[ChannelResult], *, as_of: date
) -> UnitTimeline:
    """The unit over the calendar; drains : in order of date."""
    changes = [cells for cells in drains if cells["service_kind"] != "top-up"]
    days = [wording.as_date(cells["drained_on"]) for cells in changes]
    fills = tuple(
        Fill(
            began_on=before,
            drained_on=day,
            hours=wording.finite_number(cells["oil_hours"]),
            spring=cells["spring_type"] or "",
            ratings=tuple(rating_range(cells, channel.channel) for channel in channels),
            new_spring=bool(_SPRING_FITTED.search(str(cells.get("new_parts") or ""))),
            as_now=(cells["spring_type"], cells["oil_grade"]) == (row.spring_type, row.oil_grade),
        )
        for cells, before, day in zip(changes, [None, *days[:-1]], days, strict=True)
        if day is not None
    )
    added = (wording.as_date(cells["drained_on"]) for cells in drains if cells["service_kind"] == "top-up")
    return UnitTimeline(
        channels=tuple((channel.channel, channel.limit) for channel in channels),
        fills=fills,
        top_ups=tuple(day for day in added if day is not None),
        now=RunningFill(
            as_of=as_of,
            as_of_text=wording.day(as_of, as_of),
            began_on=fills[-1].drained_on if fills else None,
            hours=row.hours_on_oil,
            estimated=row.estimated,
            spring=row.spring_text,
            interval_h=row.interval_h,
            interval_range_h=row.interval_range_h,
            due_on=as_of if row.due_now else row.act_by,
            early=None if row.due_now else row.due_on_early,
            late=None if row.due_now else row.due_on_late,
            due=row.due_text(as_of),
        ),
    )


def unit_picture(
    figure: Figure,
    row: ServiceRow,
    *,
    drains: Sequence[dict[str, Any]],
    channels: Sequence[ChannelResult],
    risk: UnitRisk | None,
    as_of: date,
) -> Picture:
    """The picture of one unit."""
    timeline = unit_timeline(row, drains, channels, as_of=as_of)
    draw_unit_timeline(figure, timeline, risk=risk)
    return inline_picture(
        figure,
        row.anchor,
        title=f"{row.name}: fills, springs, ratings and next service by date; chance of oil past fit by hours",
        description=_description(timeline),
    )


def _description(timeline: UnitTimeline) -> str:
    """What the picture shows, in words."""
    fills, now = timeline.fills, timeline.now
    sentences = []
    if fills:
        hours = [fill.hours for fill in fills if fill.hours is not None]
        ran = f", {min(hours):.1f} to {wording.hours(max(hours))}" if hours else ""
        sentences.append(
            f"{wording.counted(len(fills), 'fill')} drained from {wording.day(fills[0].drained_on)} to "
            f"{wording.day(fills[-1].drained_on)}{ran}."
        )
    for place, (channel, limit) in enumerate(timeline.channels):
        rated = [fill.ratings[place] for fill in fills if fill.ratings[place] is not None]
        past = sum(rating is not None and rating[0] >= limit for rating in rated)
        sentences.append(f"{wording.sentence(channel)[:-1]}: {past} of {len(rated)} at or past {limit}.")
    sentences.append(
        f"Now {wording.hours(now.hours)} on the oil, interval {wording.hours(now.interval_h)}, {now.due}."
    )
    return " ".join(sentences)
