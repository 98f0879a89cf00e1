"""What is known of each unit's parts: measured values near a limit, lost oil, lives at their end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from draincurve.pipeline.deciding import UnitWear
from draincurve.pipeline.judging.volume import LOSES, STEP
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import unit_names
from draincurve.schemas.parts_table import SERVICE


@dataclass(frozen=True, slots=True, order=True)
class PartFinding:
    """What one part needs; why : the reason, may be empty."""

    part: str
    asks: str
    why: str = ""

    @property
    def text(self) -> str:
        """The finding with its reason."""
        return f"{self.part}: {self.asks}{f' ({self.why})' if self.why else ''}"


def in_short(findings: Sequence[PartFinding]) -> str:
    """Findings on one line, without reasons; parts that need the same are named together."""
    asked: dict[str, list[str]] = {}
    for finding in findings:
        asked.setdefault(finding.asks, []).append(finding.part)
    return "; ".join(f"{', '.join(parts)}: {asks}" for asks, parts in asked.items())


def part_findings(result: PlanResult) -> Mapping[str, tuple[PartFinding, ...]]:
    """Findings by the unit's name, the parts past a limit first; a unit without a finding is left out."""
    findings: dict[str, list[tuple[bool, PartFinding]]] = {}
    intervals = _hours_until_change(result)
    for quantity in () if result.decided.wear is None else result.decided.wear.quantities:
        for unit in quantity.units:
            asks = _worn(unit, until_change=intervals.get(unit.unit_id))
            if asks:
                finding = PartFinding(quantity.title.lower(), asks)
                findings.setdefault(unit.unit_key, []).append((not unit.past_limit, finding))
    for balance in result.judged.volume.units:
        if balance.verdict in (LOSES, STEP):
            finding = PartFinding("seals", "look for a leak", balance.verdict)
            findings.setdefault(balance.unit_key, []).append((False, finding))
    for name, later, finding in _lives(result):
        findings.setdefault(name, []).append((later, finding))
    return {name: tuple(finding for _, finding in sorted(items)) for name, items in findings.items()}


def units_with_parts_due(result: PlanResult) -> frozenset[str]:
    """Names of the units that have a part due now."""
    if result.decided.parts is None:
        return frozenset()
    names, parts = unit_names(result), result.decided.parts.select("unit_id", "site", "due_on").drop_nulls("due_on")
    return frozenset(names.of(unit, site) for unit, site, due in parts.iter_rows() if due <= result.as_of)


def _lives(result: PlanResult) -> list[tuple[str, bool, PartFinding]]:
    """Unit, whether it is later than now, and the finding on each part due now or at the unit's own service."""
    if result.decided.parts is None:
        return []
    names, findings = unit_names(result), []
    for cells in result.decided.parts.drop_nulls("due_on").iter_rows(named=True):
        later = cells["due_on"] > result.as_of
        if not later or SERVICE in (cells["visit_with"] or "").split(", "):
            when = f"at this visit, due {wording.day(cells['due_on'])}" if later else "now"
            finding = PartFinding(cells["part"], f"{_task(cells)} {when}", cells["why"])
            findings.append((names.of(cells["unit_id"], cells["site"]), later, finding))
    return findings


def _task(cells: Mapping[str, Any]) -> str:
    """What to do with a part whose life is at its end; one whose age or hours are not known may have life left."""
    if cells["set_by"] == "wear":
        return "inspect and measure"
    known = cells["fitted_on"] if cells["set_by"] == "maker's days" else cells["hours_now"]
    return "replace" if known is not None else "find out its age or replace it"


def _worn(unit: UnitWear, *, until_change: float | None) -> str:
    """What one measured quantity needs by the next change of oil; empty where it needs nothing."""
    if unit.past_limit:
        return f"past its limit at the reading of {wording.day(unit.last_on)}"
    if unit.allowed_h is None:
        return ""
    if unit.allowed_h == 0.0:
        return "measure now"
    if until_change is not None and unit.allowed_h <= until_change:
        return f"measure by {wording.hours(unit.allowed_h)} on this oil"
    return ""


def _hours_until_change(result: PlanResult) -> dict[str, float]:
    """Interval by unit id, the longest where two sites share an id, so that no finding is left out."""
    hours: dict[str, float] = {}
    for unit_id, interval in result.decided.next_service.select("unit_id", "interval_h").iter_rows():
        if interval is not None:
            hours[unit_id] = max(interval, hours.get(unit_id, 0.0))
    return hours
