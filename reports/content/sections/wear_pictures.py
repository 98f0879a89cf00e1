"""Pictures of measured quantities: one of the whole fleet for each, and one of a single unit for its own section."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import QuantityWear, UnitWear, WearResult
from draincurve.pipeline.describing import WearLimit
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.reports.figures.wear_figure import Crossing, UnitLine, WearPlot, draw_wear
from draincurve.schemas.array_types import Floats

MOST_NAMED = 3
UNIT_WIDTH = 400.0


def wear_picture(figure: Figure, quantity: QuantityWear, *, nearest: Sequence[str], number: int) -> Picture | None:
    """One quantity of the fleet; None without a reading of known hours.

    nearest : names of the units nearest to the limit first, of which the first `MOST_NAMED` are drawn strong.
    """
    known = _with_hours(quantity.readings)
    if not known.height:
        return None
    named = [key for key in nearest if key in quantity.unit_lines][:MOST_NAMED] if quantity.limit is not None else []
    others = [key for key in quantity.unit_lines if key not in named]
    units = {unit.unit_key: unit for unit in quantity.units}
    lines = (
        *(UnitLine(key, *quantity.unit_lines[key], named=False) for key in others),
        *(UnitLine(key, *quantity.unit_lines[key], True, _crossing(units[key], quantity)) for key in named),
    )
    draw_wear(figure, _plot(quantity, known, lines))
    shown = "each reading, the fleet's line with the range of single readings, and the limit"
    nearest_text = f" Nearest to the limit: {', '.join(named)}." if named else ""
    description = f"{quantity.title} over hours: {shown}.{nearest_text}"
    return inline_picture(figure, f"wear-{number}", title=quantity.title, description=description)


def unit_wear_picture(figure: Figure, wear: WearResult | None, name: str, *, prefix: str) -> Picture | None:
    """The measured quantity of one unit that leaves it the fewest hours; None where none with a limit was measured.

    name : the unit's key.  prefix : of the picture's ids.
    """
    candidates = [
        (quantity, unit, known)
        for quantity in (() if wear is None else wear.quantities)
        if quantity.limit is not None
        for unit in quantity.units
        if unit.unit_key == name and (known := _with_hours(quantity.readings.filter(unit_key=name))).height
    ]
    if not candidates:
        return None
    quantity, unit, known = min(candidates, key=lambda candidate: _urgency(candidate[1]))
    unit_line = quantity.unit_lines.get(name)
    line = () if unit_line is None else (UnitLine("this unit", *unit_line, True, _crossing(unit, quantity)),)
    draw_wear(figure, _plot(quantity, known, line), width=UNIT_WIDTH)
    title = f"{name}: {quantity.title[:1].lower()}{quantity.title[1:]} over hours on the {quantity.clock}"
    description = f"{known.height} readings, the range of single readings of the fleet, and the limit. {unit.why}"
    return inline_picture(figure, prefix, title=title, description=description)


def _plot(quantity: QuantityWear, known: pl.DataFrame, lines: tuple[UnitLine, ...]) -> WearPlot:
    """What is drawn; known : the readings to draw, each with hours and value."""
    line = quantity.fleet_line
    return WearPlot(
        readings=_points(known.filter("now")),
        earlier=_points(known.filter(~pl.col("now"))),
        band=None if line is None else (line.hours, line.low, line.middle, line.high),
        lines=lines,
        limits=_limit_labels(quantity.limit),
        looks=()
        if quantity.looks is None
        else tuple((sign * change, f"{sign * change:+g} %") for change in quantity.looks for sign in (-1, 1)),
        farthest=quantity.farthest_h,
        x_label=f"hours on the {quantity.clock} [h]",
        y_label=f"{quantity.title} [{quantity.unit}]" if quantity.unit else quantity.title,
    )


def _crossing(unit: UnitWear, quantity: QuantityWear) -> Crossing | None:
    """Where a unit's line is expected to meet its limit; None where it was past it at its last reading."""
    limit = quantity.limit
    if limit is None or unit.line_low is None or unit.past_limit:
        return None
    hours, values = quantity.unit_lines[unit.unit_key]
    line_value = float(np.interp(unit.line_low if unit.line_middle is None else unit.line_middle, hours, values))
    heights = [value for value in (limit.low, limit.high) if value is not None]
    height = min(heights, key=lambda value: abs(value - line_value))
    return Crossing(unit.line_low, unit.line_middle, unit.line_high, height)


def _urgency(unit: UnitWear) -> tuple[bool, float]:
    return not unit.past_limit, np.inf if unit.allowed_h is None else unit.allowed_h


def _with_hours(readings: pl.DataFrame) -> pl.DataFrame:
    return readings.drop_nulls(["clock_h", "value"])


def _points(rows: pl.DataFrame) -> tuple[Floats, Floats]:
    return rows["clock_h"].cast(pl.Float64).to_numpy(), rows["value"].to_numpy()


def _limit_labels(limit: WearLimit | None) -> tuple[tuple[float, str], ...]:
    if limit is None:
        return ()
    return tuple((value, f"limit {value:g} {limit.unit}") for value in (limit.low, limit.high) if value is not None)
