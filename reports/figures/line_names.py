"""Names of lines beside the right edge of a picture, at the heights of their lines, never touching each other."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from draincurve.reports.figures.figure_style import SMALL_TEXT, plain

NamedHeight = tuple[float, str, str]
"""Height in data units, name, colour."""


def name_lines(axes: Axes, names: Sequence[NamedHeight], low: float, high: float, gap: float, longest: int) -> None:
    """Write the names right of the axes; low, high : heights they stay within; gap : least distance of two names.

    longest : letters of a name, the rest is cut
    """
    wanted = sorted(names)
    placed: list[float] = []
    for value, _, _ in wanted:
        at = min(max(value, low), high)
        placed.append(max(at, placed[-1] + gap) if placed else at)
    over = max(0.0, placed[-1] - high) if placed else 0.0
    for at, (_, name, colour) in zip(placed, wanted, strict=True):
        axes.annotate(
            plain(name, longest),
            (1.0, at - over),
            xycoords=("axes fraction", "data"),
            xytext=(6.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL_TEXT,
            color=colour,
            annotation_clip=False,
        )
