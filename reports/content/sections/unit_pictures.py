"""One unit's picture: its risk by hours beside the fleet's and the other leg's, and its ratings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.deciding import OIL, UnitCurve
from draincurve.pipeline.judging import ChannelResult, RiskCurve
from draincurve.pipeline.report import Report
from draincurve.reports.content import wording
from draincurve.reports.content.sections.drain_rows import rating_range
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.unit_history_figure import RatedDrain, UnitHistory, UnitRisk, draw_unit_history
from draincurve.schemas.next_service_table import FASTER, SLOWER

DRAW_ALL_UP_TO = 20
FEWEST_DRAINS = 3


@dataclass(frozen=True, slots=True)
class UnitCurves:
    """Risk curves by unit's name and channel, and the fleet's by channel, spring and oil."""

    own: Mapping[str, Mapping[str, UnitCurve]]
    fleet: Mapping[tuple[str, str, str], RiskCurve]
    accepted_risk: float

    def risk_of(self, row: ServiceRow, partner: ServiceRow | None) -> UnitRisk | None:
        """Curves of the oil or, of a log with one channel, of that; None without a curve."""
        own = self.own.get(row.name, {})
        if not own:
            return None
        channel = OIL if OIL in own else next(iter(own))
        return UnitRisk(
            own=own[channel],
            fleet=self.fleet.get((channel, row.spring_type or "", row.oil_grade or "")),
            partner=None if partner is None else self.own.get(partner.name, {}).get(channel),
            accepted_risk=self.accepted_risk,
            now_h=row.hours_on_oil,
        )


def unit_curves(result: Report, names: UnitNames) -> UnitCurves:
    """All curves of one run, to be looked up unit by unit."""
    own: dict[str, dict[str, UnitCurve]] = {}
    for curve in result.decided.unit_curves:
        own.setdefault(names.of(curve.unit_id, curve.site), {})[curve.channel] = curve
    fleet = {
        (channel.channel, curve.spring_type, curve.oil_grade): curve
        for channel in result.judged.channels
        for curve in channel.curves
    }
    return UnitCurves(own, fleet, result.settings.accepted_risk)


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


def unit_picture(
    figure: Figure,
    row: ServiceRow,
    *,
    drains: Sequence[dict[str, Any]],
    channels: Sequence[ChannelResult],
    risk: UnitRisk | None,
) -> Picture | None:
    """The picture of one unit; None where no drain has both hours and a rating."""
    histories = unit_histories(drains, channels)
    if not histories:
        return None
    draw_unit_history(figure, histories, interval_h=row.interval_h, interval_range_h=row.interval_range_h, risk=risk)
    past = "; ".join(
        f"{history.channel}: {sum(drain.low >= history.limit for drain in history.drains)} of "
        f"{len(history.drains)} at or past {history.limit}"
        for history in histories
    )
    return inline_picture(
        figure,
        row.anchor,
        title=f"{row.name}: chance of oil past fit and ratings, by hours on the oil",
        description=f"{past}. Interval {wording.hours(row.interval_h)}.",
    )
