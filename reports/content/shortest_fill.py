"""Intervals below every fill that was ever rated: nothing was seen there, so they are extrapolated."""

from __future__ import annotations

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow


def shortest_rated(result: PlanResult) -> float | None:
    """Hours of the shortest fill with a rating [h], over all channels; None without one."""
    shortest = (channel.ratings["oil_hours"].drop_nulls().min() for channel in result.judged.channels)
    return min((float(hours) for hours in shortest if isinstance(hours, (int, float))), default=None)


def extrapolated_text(shortest: float | None) -> str:
    """That an interval is shorter than the shortest rated fill, whose hours are `shortest` [h]."""
    return f"shorter than any fill rated so far ({wording.hours(shortest)}): extrapolated from longer fills."


def below_any_rated(row: ServiceRow, shortest: float | None) -> bool:
    """Whether the oil's interval of a unit is shorter than any rated fill; one that wear sets says nothing of oil."""
    return shortest is not None and row.interval_h is not None and row.set_by != "wear" and row.interval_h < shortest
