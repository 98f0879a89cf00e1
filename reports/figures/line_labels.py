"""Labels of lines, right of the axes, at the heights of their lines and without overlap."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from draincurve.reports.figures.figure_style import SMALL_TEXT, label_text

LineLabel = tuple[float, str, str]
"""Height in data units, text, colour."""


def label_lines(
    axes: Axes, labels: Sequence[LineLabel], *, low: float, high: float, gap: float, longest: int
) -> None:
    """Write the labels right of the axes.

    low, high : heights that the labels stay within.  gap : least distance of two labels, in data units.
    longest : letters of a label; the rest is cut.
    """
    wanted = sorted(labels)
    heights: list[float] = []
    for value, _, _ in wanted:
        height = min(max(value, low), high)
        heights.append(max(height, heights[-1] + gap) if heights else height)
    excess = max(0.0, heights[-1] - high) if heights else 0.0
    for height, (_, text, colour) in zip(heights, wanted, strict=True):
        axes.annotate(
            label_text(text, longest),
            (1.0, height - excess),
            xycoords=("axes fraction", "data"),
            xytext=(6.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL_TEXT,
            color=colour,
            annotation_clip=False,
        )
