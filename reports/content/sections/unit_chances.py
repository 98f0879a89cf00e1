"""Which curves stand in a unit's picture: its own, its other leg's and the fleet's, of the channel that sets it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from draincurve.pipeline.deciding.unit_curves import UnitCurve
from draincurve.pipeline.judging.risk_curves import RiskCurve
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.figures.unit_risk_panel import UnitChance


@dataclass(frozen=True, slots=True)
class UnitChances:
    """Curves by unit's name and channel, and the fleet's by channel, spring and oil."""

    own: Mapping[str, Mapping[str, UnitCurve]]
    fleet: Mapping[tuple[str, str, str], RiskCurve]
    accepted_risk: float

    def of_unit(self, row: ServiceRow, partner: ServiceRow | None) -> UnitChance | None:
        """The top panel of a unit's picture; None where its curve was not handed over."""
        own = self.own.get(row.name, {})
        if not own:
            return None
        set_by = row.set_by or ""
        channel = set_by if set_by in own else self._dirtier(own)
        beside = None if partner is None else self.own.get(partner.name, {}).get(channel)
        fleet = self.fleet.get((channel, row.spring_type or "", row.oil_grade or ""))
        return UnitChance(own[channel], fleet, beside, self.accepted_risk, row.hours_on_oil)

    @staticmethod
    def _dirtier(own: Mapping[str, UnitCurve]) -> str:
        """The channel whose risk is the larger over the hours shown."""
        return max(own, key=lambda channel: float(own[channel].median.mean()))


def unit_chances(result: PlanResult, names: UnitNames) -> UnitChances:
    """All curves of one run, to be looked up unit by unit."""
    own: dict[str, dict[str, UnitCurve]] = {}
    for curve in result.unit_curves:
        own.setdefault(names.of(curve.unit_id, curve.site), {})[curve.channel] = curve
    fleet = {
        (channel.channel, curve.spring_type, curve.oil_grade): curve
        for channel in result.channels
        for curve in channel.curves
    }
    return UnitChances(own, fleet, result.settings.accepted_risk)
