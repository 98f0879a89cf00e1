"""Hours multipliers of springs, oils and the rest, each against the fleet's average level, with ranges."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.pipeline.judging import Multiplier
from draincurve.reports.figures.figure_style import INK, PETROL, SOFT, Margins, label_text, single_axes
from draincurve.reports.figures.row_axes import (
    draw_range,
    label_group,
    label_row,
    label_value,
    set_multiplier_axis,
    set_rows,
)

ROW_HEIGHT = 22.0
_MARGINS = Margins(left=128.0, top=8.0, right=98.0, bottom=44.0)


def draw_multipliers(figure: Figure, multipliers: Sequence[Multiplier]) -> None:
    """Draw one row for each level, grouped by term, on a log axis of multipliers (1 is the fleet's average)."""
    terms = list(dict.fromkeys(item.term for item in multipliers))
    rows = len(multipliers) + len(terms)
    with single_axes(figure, width=420.0, height=58.0 + ROW_HEIGHT * rows, margins=_MARGINS) as axes:
        ranges = [(item.low, item.high) for item in multipliers]
        set_multiplier_axis(axes, ranges, narrowest=(0.75, 1.35), widest=10.0)
        set_rows(axes, rows)
        row = 0
        for term in terms:
            label_group(axes, term, row=row, offset=-122.0)
            row += 1
            for item in (item for item in multipliers if item.term == term):
                _draw_level(axes, item, row=row)
                row += 1
        axes.set_xlabel("hours to the limit, fleet's average level = 1x")


def _draw_level(axes: Axes, item: Multiplier, *, row: int) -> None:
    clear = item.high < 1.0 or item.low > 1.0
    draw_range(
        axes,
        (item.low, item.multiplier, item.high),
        row=row,
        marker="o" if clear else "D",
        colour=PETROL,
        filled=clear,
        size=6.5 if clear else 5.5,
    )
    label_row(axes, label_text(item.level, 18), row=row)
    words = f"{item.multiplier:.2f}x ({item.low:.2g} to {item.high:.2g})"
    label_value(axes, words, row=row, colour=INK if clear else SOFT)
