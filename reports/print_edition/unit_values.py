"""Units as values for the templates, every number in words: a row of the table of all units, and a section."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.sections.drain_rows import DrainRow
from draincurve.reports.content.sections.unit_sections import UnitSection
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trade_words import NO_DRAIN_YET
from draincurve.schemas.next_service_table import FASTER, SLOWER

NO_BREAK = "\u00a0"
INSPECT_NOW = "inspect now"


def row_values(row: ServiceRow, *, as_of: date, inspect: bool) -> dict[str, Any]:
    """One unit of the table of all units; inspect : whether it has a sign, which comes before its date."""
    due = row.due_text(as_of)
    between = "" if row.due_now else wording.day_range(row.due_on_early, row.due_on_late, beside=as_of)
    return {
        "name": row.name,
        "anchor": row.anchor,
        "location": ", ".join(part for part in (row.location, row.site) if part),
        "due": INSPECT_NOW if inspect else due,
        "due_now": row.due_now or inspect,
        "due_range": ", ".join(part for part in (f"oil {due}" if inspect else "", between) if part),
        "left": _tenths(row.hours_left),
        "set_by": row.set_by_text,
        "on_oil": row.on_oil_text,
        "basis": _basis(row),
        "interval": _tenths(row.interval_h),
        "range": row.range_text,
        "risk": wording.percent(row.risk_now),
        "ratio": wording.ratio(row.hours_ratio),
        "ratio_range": _ratio_range(row),
        "standing": row.standing,
        "called": row.standing in (FASTER, SLOWER),
        "turned": "turned: it has changed" if row.turned else row.unsure_text,
        "drains": row.drains,
        "spring": row.spring_text,
        "oil_and_rider": f"{row.oil_text} · {row.rider_text}",
    }


def unit_values(unit: UnitSection, drains: Sequence[DrainRow], *, as_of: date) -> dict[str, Any]:
    """One unit's section; drains : those to be listed."""
    row = unit.row
    between = wording.day_range(row.due_on_early, row.due_on_late, beside=as_of)
    runs = (row.location, row.spring_text, row.oil_text, row.rider_text, row.site)
    run_out = f"the hours run out about {wording.day(row.due_on, as_of)} ({between})"
    return {
        "name": row.name,
        "anchor": row.anchor,
        "due": INSPECT_NOW if unit.inspect else row.due_text(as_of),
        "left": f"oil {row.due_text(as_of)}, {row.left_text}" if unit.inspect else row.left_text,
        "run_out": run_out if between and not row.due_now else "",
        "runs": " · ".join(part for part in runs if part),
        "partner": None if unit.partner is None else _partner(unit.partner, as_of=as_of),
        "inspect": _to_inspect(unit),
        "turned": row.turned,
        "parts": "; ".join(unit.parts),
        "assumed": unit.assumed,
        "why": unit.why,
        "evidence": [part for part in (unit.short, *unit.evidence) if part],
        "facts": _facts(unit),
        "standing": row.standing,
        "ratio": "; ".join(part for part in (row.fleet_hours_text, row.unsure_text) if part),
        "picture": unit.picture,
        "caption": _caption(unit, listed=len(drains)),
        "any_rater": unit.any_rater,
        "drains": [_drain(drain) for drain in drains],
    }


def _basis(row: ServiceRow) -> str:
    return "estimated" if row.estimated and row.on_oil_text != wording.UNKNOWN else ""


def _tenths(value: float | None) -> str:
    return wording.UNKNOWN if value is None else f"{value:.1f}"


def _ratio_range(row: ServiceRow) -> str:
    if row.hours_ratio_low is None or row.hours_ratio_high is None:
        return ""
    return f"{wording.short_number(row.hours_ratio_low)} to {wording.short_number(row.hours_ratio_high)}"


def _caption(unit: UnitSection, *, listed: int) -> str:
    if not unit.drains:
        return NO_DRAIN_YET
    which = "first" if listed == len(unit.drains) else f"{listed} here"
    return f"{unit.counted}, the latest {which}; bold with ▲ is past the limit"


def _drain(drain: DrainRow) -> dict[str, Any]:
    return {
        "drained_on": drain.drained_on,
        "oil_hours": drain.oil_hours,
        "ratings": drain.ratings,
        "past": drain.past,
        "ran": " · ".join(part for part in (drain.oil_grade, drain.spring_type, drain.rider) if part),
        "rated_by": drain.rated_by,
        "note": drain.note,
    }


def _partner(row: ServiceRow, *, as_of: date) -> dict[str, str]:
    """The other leg of the same machine."""
    between = row.range_text
    return {
        "name": row.name,
        "anchor": row.anchor,
        "position": f" ({row.position})" if row.position else "",
        "words": (
            f"{row.due_text(as_of)}, {row.left_text}; interval {wording.hours(row.interval_h)}"
            f"{f' ({between})' if between else ''}; {row.standing_text}."
        ),
    }


def _to_inspect(unit: UnitSection) -> str:
    """Signs to inspect for, unless the sentence on the unit begins with them already."""
    return f"{unit.inspect}." if unit.inspect and not unit.why.startswith("Inspect now") else ""


def _facts(unit: UnitSection) -> list[dict[str, str]]:
    row = unit.row
    on_oil = row.on_oil_text
    facts = [
        ("On the oil", on_oil if on_oil == wording.UNKNOWN else f"{on_oil} h", _basis(row)),
        ("Interval", wording.hours(row.interval_h), row.range_text),
        (
            "Set by",
            row.set_by_text,
            f"costs are least at {unit.cost_interval.replace(' ', NO_BREAK)}" if unit.cost_interval else "",
        ),
        ("Risk now", wording.percent(row.risk_now), ""),
    ]
    return [{"name": name, "value": value, "small": small} for name, value, small in facts]
