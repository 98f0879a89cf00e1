"""Pictures of hours on the oil: each group of units drawn once for a wide and once for a narrow screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from matplotlib.figure import Figure

from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.figures.hours_left_figure import HoursRow, axis_end, draw_hours_left
from draincurve.reports.figures.svg_picture import Picture, inline_picture

MOST_UNITS = 60
UNITS_A_PICTURE = 30
WIDE, NARROW = 760.0, 370.0


@dataclass(frozen=True, slots=True)
class HoursPicture:
    """The same units drawn for a wide and for a narrow screen."""

    wide: Picture
    narrow: Picture


def hours_pictures(figure: Figure, rows: Sequence[ServiceRow], *, as_of: date) -> tuple[HoursPicture, ...]:
    """Pictures of the units due soonest, at most MOST_UNITS, UNITS_A_PICTURE in each so that it fits a page."""
    shown = rows[:MOST_UNITS]
    end = axis_end(hours_rows(shown, as_of, wide=False))
    pictures = []
    for start in range(0, len(shown), UNITS_A_PICTURE):
        part = shown[start : start + UNITS_A_PICTURE]
        first, last = start + 1, start + len(part)
        title = f"Hours on the oil against the interval, units {first} to {last} by due date"
        description = "; ".join(f"{row.name}: {_described(row)}" for row in part)
        drawn = []
        for name, width in (("wide", WIDE), ("narrow", NARROW)):
            draw_hours_left(figure, hours_rows(part, as_of, wide=name == "wide"), width=width, end=end)
            drawn.append(inline_picture(figure, f"hours-{name}-{first}", title=title, description=description))
        pictures.append(HoursPicture(*drawn))
    return tuple(pictures)


def hours_rows(rows: Sequence[ServiceRow], as_of: date, *, wide: bool) -> list[HoursRow]:
    """Rows of a picture; wide : there is room for the due date beside the hours left."""
    return [_hours_row(row, _note(row, as_of, wide=wide)) for row in rows]


def _note(row: ServiceRow, as_of: date, *, wide: bool) -> str:
    if row.hours_left is None:
        return row.due_text(as_of)
    left = "inspect for wear" if row.no_hours_by_wear else row.left_text
    return f"{left} · {row.due_text(as_of)}" if wide else left


def _described(row: ServiceRow) -> str:
    return f"{row.on_oil_hours} on the oil, interval {wording.hours(row.interval_h)}, {row.left_text}"


def _hours_row(row: ServiceRow, note: str) -> HoursRow:
    return HoursRow(
        name=row.name,
        hours_on_oil=row.hours_on_oil,
        estimated=row.estimated,
        interval_h=row.interval_h,
        interval_low_h=row.interval_low_h,
        interval_high_h=row.interval_high_h,
        due_now=row.due_now,
        note=note,
    )
