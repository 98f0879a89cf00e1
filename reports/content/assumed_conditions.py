"""What each unit's interval is for: the surface, the hours on its spring and parts, and the old oil left in it."""

from __future__ import annotations

from typing import Any

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording

_NOT_KNOWN = "not known, so taken on the cautious side"


def assumed_conditions(result: PlanResult) -> dict[str, str]:
    """One sentence by unit; units without a state have none."""
    state = result.described.state
    if "unit_key" not in state.columns:
        return {}
    columns = ("unit_key", "surface", "spring_hours_now", "part_age_now", "last_shortfall")
    rows = state.select(columns).iter_rows(named=True)
    return {cells["unit_key"]: _sentence(cells) for cells in rows}


def _sentence(cells: dict[str, Any]) -> str:
    spring, part, left = (
        wording.finite_number(cells[name]) for name in ("spring_hours_now", "part_age_now", "last_shortfall")
    )
    conditions = [
        f"surface {cells['surface'] or _NOT_KNOWN}",
        f"hours on the spring {_NOT_KNOWN if spring is None else f'{spring:.0f} at the last drain'}",
        f"hours on its parts at least {part or 0.0:.0f} when this fill began",
        f"old oil left in it {_NOT_KNOWN if left is None else wording.percent(left)}",
    ]
    return f"Its interval is for: {'; '.join(conditions)}."
