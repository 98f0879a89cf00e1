"""The section on measured values: each quantity, where its limit is met, and which units to inspect by when."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import numpy as np
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import QuantityWear, UnitWear, WearResult
from draincurve.reports.content import wording
from draincurve.reports.content.sections.wear_descriptions import wear_notes, wear_sentences
from draincurve.reports.content.sections.wear_pictures import wear_picture
from draincurve.reports.content.unit_names import section_anchor
from draincurve.reports.figures.svg_picture import Picture

MOST_ROWS = 12


@dataclass(frozen=True, slots=True)
class WearRow:
    """One unit and one quantity, in words; anchor : empty for a unit without a section."""

    name: str
    anchor: str
    latest: str
    line_meets: str
    inspect_by: str
    left: str
    past_limit: bool


@dataclass(frozen=True, slots=True)
class QuantitySection:
    """One quantity; rows : those nearest to their limit first.  more : about units without a row."""

    key: str
    title: str
    sentences: tuple[str, ...]
    notes: tuple[str, ...]
    limited: bool
    rows: tuple[WearRow, ...]
    more: str
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class WearSection:
    """All measured quantities.

    unknown : measured quantities that the program does not know.  unused_limits : limits without a measurement.
    """

    quantities: tuple[QuantitySection, ...]
    unknown: tuple[str, ...]
    unused_limits: tuple[str, ...]


def wear_section(
    figure: Figure, wear: WearResult | None, *, in_service: Collection[str], as_of: date
) -> WearSection | None:
    """Measured values in words and pictures; None if nothing was measured.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    if wear is None or not (wear.quantities or wear.unknown):
        return None
    return WearSection(
        tuple(
            _quantity(figure, quantity, number=number, in_service=in_service, as_of=as_of)
            for number, quantity in enumerate(wear.quantities)
        ),
        tuple(
            f"{name}{f' [{unit}]' if unit else ''}, {wording.counted(count, 'reading')}"
            for name, unit, count in wear.unknown
        ),
        wear.unused_limits,
    )


def _quantity(
    figure: Figure, quantity: QuantityWear, *, number: int, in_service: Collection[str], as_of: date
) -> QuantitySection:
    shown = _nearest(quantity)
    title = f"{quantity.title}, {quantity.unit}" if quantity.unit else quantity.title
    return QuantitySection(
        key=f"wear-{number}",
        title=title,
        sentences=wear_sentences(quantity),
        notes=wear_notes(quantity),
        limited=quantity.limit is not None,
        rows=tuple(_row(unit, quantity, in_service=in_service, as_of=as_of) for unit in shown[:MOST_ROWS]),
        more=_more(quantity, len(shown)),
        picture=wear_picture(figure, quantity, nearest=[unit.unit_key for unit in shown], number=number),
    )


def _nearest(quantity: QuantityWear) -> list[UnitWear]:
    """Units to list: those past the limit, then by hours left; without a limit, all with a reading."""
    if quantity.limit is None:
        return sorted(
            (unit for unit in quantity.units if unit.last_value is not None),
            key=lambda unit: (-_badness(quantity, unit), unit.unit_key),
        )
    met = [unit for unit in quantity.units if unit.past_limit or not unit.beyond_range or unit.allowed_h == 0.0]
    return sorted(
        met,
        key=lambda unit: (
            not unit.past_limit,
            unit.allowed_h is None,
            unit.allowed_h or 0.0,
            unit.line_low if unit.line_low is not None else np.inf,
            unit.unit_key,
        ),
    )


def _more(quantity: QuantityWear, shown: int) -> str:
    """What to know of the units that the table does not list."""
    unlisted = max(0, shown - MOST_ROWS)
    sentences = []
    if unlisted:
        verb = wording.plural(unlisted, "is", many="are")
        sentences.append(f"{wording.counted(unlisted, 'more unit')} {verb} not listed.")
    beyond = len(quantity.units) - shown
    if quantity.limit is not None and beyond and quantity.farthest_h is not None:
        sentences.append(
            f"{wording.counted(beyond, 'unit')}{' more' if shown else ''}: the limit is not reached within "
            f"{quantity.farthest_h:.0f} h, the end of what was measured and the step allowed beyond it. Nothing is "
            "known beyond that: measure by then."
        )
    return " ".join(sentences)


def _badness(quantity: QuantityWear, unit: UnitWear) -> float:
    value = unit.last_value or 0.0
    return {"rising": value, "falling": -value}.get(quantity.worse, abs(value))


def _row(unit: UnitWear, quantity: QuantityWear, *, in_service: Collection[str], as_of: date) -> WearRow:
    value = "not measured"
    if unit.last_value is not None:
        bound = f"{unit.last_bound} " if unit.last_bound else ""
        value = f"{bound}{unit.last_value:.3g} on {wording.day(unit.last_on, as_of)}"
        value += _mark(unit, quantity)
    return WearRow(
        name=unit.unit_key,
        anchor=section_anchor(unit.unit_key, in_service),
        latest=value,
        line_meets=_line_text(unit, quantity),
        inspect_by=_inspect_text(unit),
        left=_left_text(unit),
        past_limit=unit.past_limit,
    )


def _mark(unit: UnitWear, quantity: QuantityWear) -> str:
    if unit.past_limit:
        return ", past its limit"
    if quantity.looks is not None and unit.last_value is not None:
        look, act = quantity.looks
        change = abs(unit.last_value)
        return ", time to act" if change >= act else ", worth a look" if change >= look else ""
    return ""


def _line_text(unit: UnitWear, quantity: QuantityWear) -> str:
    if quantity.fit is None or quantity.farthest_h is None:
        return wording.UNKNOWN
    beyond = f"over {quantity.farthest_h:.0f} h"
    low, middle, high = (
        beyond if hours is None else f"{hours:.0f} h" for hours in (unit.line_low, unit.line_middle, unit.line_high)
    )
    return beyond if low == beyond else f"{middle} ({low} to {high})"


def _inspect_text(unit: UnitWear) -> str:
    if unit.past_limit and unit.allowed_h == 0.0:
        return "now"
    if unit.wear_hours is None:
        return wording.UNKNOWN
    hours = f"{unit.wear_hours:.0f} h{', end of what was measured' if unit.beyond_range else ''}"
    return f"now ({hours})" if unit.allowed_h == 0.0 else hours


def _left_text(unit: UnitWear) -> str:
    if unit.allowed_h is None:
        return wording.UNKNOWN
    return "none" if unit.allowed_h == 0.0 else wording.hours(unit.allowed_h)
