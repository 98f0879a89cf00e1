"""One unit's section as values for the templates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from draincurve.reports.content import wording
from draincurve.reports.content.sections.drain_rows import DrainRow
from draincurve.reports.content.sections.unit_sections import UnitSection
from draincurve.reports.content.service_rows import ServiceRow


def unit_values(unit: UnitSection, drains: Sequence[DrainRow], as_of: date) -> dict[str, Any]:
    """Everything that one unit's section says, every number in words; drains : those to be listed."""
    row = unit.row
    span = wording.day_range(row.due_on_early, row.due_on_late, as_of)
    place = [row.place_words] if row.place_words else []
    runs = [
        *place,
        row.spring_type or "spring not known",
        row.oil_grade or "oil not known",
        row.rider or "rider not known",
    ]
    run_out = f"the hours run out about {wording.day(row.due_on, as_of)} ({span})" if span and not row.due_now else ""
    return {
        "name": row.name,
        "anchor": row.anchor,
        "due": row.due_words(as_of),
        "left": row.left_words(),
        "run_out": run_out,
        "runs": " · ".join([*runs, *([row.site] if row.site else [])]),
        "partner": None if unit.partner is None else _partner(unit.partner, as_of),
        "inspect": _to_inspect(unit),
        "turned": row.turned,
        "why": unit.why,
        "evidence": unit.evidence,
        "facts": _facts(unit),
        "standing": row.standing,
        "ratio": f"{row.ratio_words} the hours",
        "picture": unit.picture,
        "caption": f"{_counted(unit, drains)}; bold with ▲ is past the limit",
        "any_rater": unit.any_rater,
        "drains": [_drain(drain) for drain in drains],
    }


def _counted(unit: UnitSection, drains: Sequence[DrainRow]) -> str:
    counted = wording.counted(len(unit.drains), "drain")
    return f"{counted}, the latest {'first' if len(drains) == len(unit.drains) else f'{len(drains)} here'}"


def _drain(drain: DrainRow) -> dict[str, Any]:
    ran = " · ".join(part for part in (drain.oil_grade, drain.spring_type, drain.rider) if part)
    return {
        "drained_on": drain.drained_on,
        "oil_hours": drain.oil_hours,
        "ratings": drain.ratings,
        "past": drain.past,
        "ran": ran,
        "rated_by": drain.rated_by,
        "note": drain.note,
    }


def _partner(row: ServiceRow, as_of: date) -> dict[str, str]:
    """The other leg of the same machine."""
    span = wording.hours_range(row.interval_low_h, row.interval_high_h)
    return {
        "name": row.name,
        "anchor": "",
        "position": f" ({row.position})" if row.position else "",
        "said": (
            f"{row.due_words(as_of)}, {row.left_words()}; interval {wording.hours(row.interval_h)}"
            f"{f' ({span})' if span else ''}; {row.standing}, {row.ratio_words} the hours."
        ),
    }


def _to_inspect(unit: UnitSection) -> str:
    """Signs to inspect for, where the sentence on the unit does not begin with them already."""
    return f"{unit.inspect}." if unit.inspect and not unit.why.startswith("Inspect now") else ""


def _facts(unit: UnitSection) -> list[dict[str, str]]:
    row = unit.row
    estimated = "estimated" if row.estimated and row.hours_on_oil is not None else ""
    found = [
        ("On the oil", wording.hours(row.hours_on_oil), estimated),
        ("Interval", wording.hours(row.interval_h), wording.hours_range(row.interval_low_h, row.interval_high_h)),
        ("Set by", row.set_by_words, f"cost interval {unit.cost_interval}" if unit.cost_interval else ""),
        ("Risk now", wording.percent(row.risk_now), ""),
    ]
    return [{"name": name, "value": value, "small": small} for name, value, small in found]
