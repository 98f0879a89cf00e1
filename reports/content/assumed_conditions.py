"""What each unit's interval is for, and how many times the fleet's hours oil lasts under what it runs with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from draincurve.pipeline.judging import Multiplier
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow

_NOT_KNOWN = "not known, so taken on the cautious side"


def assumed_conditions(result: PlanResult, rows: Sequence[ServiceRow]) -> dict[str, str]:
    """A sentence or two by unit; units without a state have none."""
    state = result.described.state
    if "unit_key" not in state.columns:
        return {}
    columns = ("unit_key", "surface", "spring_hours_now", "part_age_now", "last_shortfall")
    states = {cells["unit_key"]: cells for cells in state.select(columns).iter_rows(named=True)}
    multipliers = {
        channel.channel: {(item.term, item.level): item for item in channel.multipliers}
        for channel in result.judged.channels
    }
    return {
        row.name: f"{_conditions_text(cells)}{_multipliers_text(row, multipliers, surface=cells['surface'])}"
        for row in rows
        if (cells := states.get(row.name)) is not None
    }


def _conditions_text(cells: dict[str, Any]) -> str:
    spring, part, left = (
        wording.finite_number(cells[name]) for name in ("spring_hours_now", "part_age_now", "last_shortfall")
    )
    conditions = [
        f"surface {cells['surface'] or _NOT_KNOWN}",
        f"hours on the spring {_NOT_KNOWN if spring is None else f'{spring:.0f} at the last drain'}",
        f"hours on its parts at least {part or 0.0:.0f} when this fill began",
        f"old oil left in it {_NOT_KNOWN if left is None else f'at most {wording.percent(left)}'}",
    ]
    return f"Its interval is for: {'; '.join(conditions)}."


def _multipliers_text(
    row: ServiceRow, multipliers: Mapping[str, Mapping[tuple[str, str], Multiplier]], *, surface: str | None
) -> str:
    """By what two units on one spring and oil may differ; empty where no rated channel sets the interval."""
    levels = {
        "spring type": row.spring_type,
        "oil grade": row.oil_grade,
        "rider": row.rider,
        "surface": surface,
        "site": row.site,
    }
    known = multipliers.get(row.set_by or "", {})
    items = [item for term, level in levels.items() if (item := known.get((term, level or ""))) is not None]
    if not items:
        return ""
    shown = [f"{item.level} {wording.ratio(item.multiplier, low=item.low, high=item.high)}" for item in items]
    return f" Hours to the limit of {row.set_by}, beside the fleet's average: {', '.join(shown)}."
