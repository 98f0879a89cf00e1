"""How far the log moved each parameter from its prior: where it did not, the log cannot tell."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from draincurve.pipeline.judging.evidence import PriorMovement
from draincurve.pipeline.judging.warnings import BARELY_MOVED
from draincurve.reports.figures.figure_style import (
    AMBER,
    GRID,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    SMALL_TEXT,
    TEXT_SIZE,
    axes_at,
    drawing_style,
    plain,
    resize,
)

LINE_HEIGHT = 21.0


def draw_prior_movement(figure: Figure, movements: Sequence[PriorMovement], width: float = 420.0) -> None:
    """Draw one line a parameter: its spread after the log as a share of its spread before."""
    resize(figure, width, 10.0 + LINE_HEIGHT * len(movements) + 44.0)
    with drawing_style():
        axes = axes_at(figure, left=140.0, top=6.0, right=92.0, bottom=40.0)
        axes.set_xlim(0.0, 1.1)
        axes.set_ylim(len(movements) - 0.4, -0.6)
        axes.axvline(1.0, color=INK, linewidth=0.8)
        for place, item in enumerate(movements):
            ratio = min(item.ratio, 1.1)
            unmoved = item.ratio >= BARELY_MOVED
            axes.plot([ratio, 1.0], [place, place], color=PETROL_PALE, linewidth=5.0, solid_capstyle="butt")
            axes.plot(
                [ratio],
                [place],
                "D" if unmoved else "o",
                color=AMBER if unmoved else PETROL,
                markerfacecolor=PAPER if unmoved else PETROL,
                markersize=6.0,
            )
            axes.annotate(
                plain(item.parameter, 24),
                (0.0, place),
                xytext=(-8.0, 0.0),
                textcoords="offset points",
                ha="right",
                va="center",
                fontsize=TEXT_SIZE - 0.5,
                annotation_clip=False,
            )
            axes.annotate(
                f"{item.ratio:.2f}{' cannot tell' if unmoved else ''}",
                (1.1, place),
                xytext=(2.0, 0.0),
                textcoords="offset points",
                va="center",
                fontsize=SMALL_TEXT,
                weight="bold" if unmoved else "normal",
                annotation_clip=False,
            )
        axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0])
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("spread after the log / before (1: log says nothing)")
