"""Why a unit's wear point is where it is, in one plain sentence."""

from __future__ import annotations

from draincurve.pipeline.deciding.wear_result import UnitWear
from draincurve.pipeline.describing import WearSeries


def unit_sentence(unit: UnitWear, series: WearSeries, *, at_least: bool, are_run: bool) -> str:
    """What the readings say of one unit, and what to do.

    at_least : the hours on its part are only known to be at least what the log holds.  are_run : the hours until the
    wear point have been run
    """
    title = lower_first(series.quantity.title)
    if series.limit is None:
        return f"no limit is set for {title}, so there is no wear point"
    limit = series.limit.label
    if unit.past_limit and series.quantity.clock == "part":
        return f"{title} is past its limit ({limit}): inspect now, whatever the hours"
    parts = [_wear_point(unit, series, title, limit, are_run=are_run), _borrowed(unit, title)]
    if unit.past_limit:
        parts.append(f"its latest reading was past the limit ({limit}): look for the cause")
    if at_least:
        parts.append("hours on the part are not known and are at least those in the log")
    return "; ".join(part for part in parts if part)


def _wear_point(unit: UnitWear, series: WearSeries, title: str, limit: str, *, are_run: bool) -> str:
    where = "on the oil" if series.quantity.clock == "oil" else "on the part"
    if unit.wear_hours is None:
        return f"{title}: no reading has known hours, so no wear point can be told: measure it"
    at = f"{unit.wear_hours:.3g} h {where}"
    if unit.beyond_range:
        by = f"now, as it was to be by {at}" if are_run else f"by {at}"
        return f"{title} was measured at fewer hours only: measure it {by}"
    if are_run:
        return f"{title} may have reached its limit ({limit}) at {at}: inspect and measure now"
    return f"{title} may reach its limit ({limit}) at {at}: inspect and measure by then"


def _borrowed(unit: UnitWear, title: str) -> str:
    return "" if unit.readings else f"its own {title} was not measured, so the fleet's stands in"


def lower_first(text: str) -> str:
    """A title inside a sentence; names such as ISO and ASTM keep their capitals."""
    return text if text[:2].isupper() else text[0].lower() + text[1:]
