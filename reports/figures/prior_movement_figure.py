"""How far the log moved each parameter from its prior; where it did not, the log says nothing about it."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from draincurve.pipeline.judging import BARELY_MOVED, PriorMovement
from draincurve.reports.figures.figure_style import (
    AMBER,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    TEXT_SIZE,
    Margins,
    label_text,
    single_axes,
)
from draincurve.reports.figures.row_axes import label_row, label_value, set_rows

ROW_HEIGHT = 21.0
_MARGINS = Margins(left=178.0, top=6.0, right=92.0, bottom=40.0)


def draw_prior_movement(figure: Figure, movements: Sequence[PriorMovement]) -> None:
    """Draw one row for each parameter: its posterior standard deviation as a share of its prior one."""
    with single_axes(figure, width=458.0, height=54.0 + ROW_HEIGHT * len(movements), margins=_MARGINS) as axes:
        axes.set_xlim(0.0, 1.1)
        axes.axvline(1.0, color=INK, linewidth=0.8)
        set_rows(axes, len(movements))
        for row, item in enumerate(movements):
            ratio = min(item.ratio, 1.1)
            unmoved = item.ratio >= BARELY_MOVED
            axes.plot([ratio, 1.0], [row, row], color=PETROL_PALE, linewidth=5.0, solid_capstyle="butt")
            axes.plot(
                [ratio],
                [row],
                "D" if unmoved else "o",
                color=AMBER if unmoved else PETROL,
                markerfacecolor=PAPER if unmoved else PETROL,
                markersize=6.0,
            )
            label_row(axes, label_text(item.parameter, 30), row=row, size=TEXT_SIZE - 0.5)
            words = f"{item.ratio:.2f}{' cannot tell' if unmoved else ''}"
            label_value(axes, words, row=row, offset=2.0, bold=unmoved)
        axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0])
        axes.set_xlabel("sd after the log / sd before (1: log adds nothing)")
