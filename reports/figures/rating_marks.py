"""Ratings as marks beside their limit, over whatever the drains are drawn against."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from draincurve.reports.figures.figure_style import AMBER, DASHED, PETROL, PETROL_PALE, SMALL_TEXT, SOFT

RATING_LEVELS = 5
MOST_LARGE = 24
"""Ratings that are drawn as large marks; more of them are drawn smaller, so that they stay apart."""

Rating = tuple[float, int, int]
"""Where a drain stands, and the lowest and the highest level that its rating may mean."""


def draw_ratings(axes: Axes, ratings: Sequence[Rating], *, channel: str, limit: int) -> None:
    """One channel's ratings: triangles past the limit, dots before it, a line over both levels of a range."""
    axes.set_ylim(0.5, RATING_LEVELS + 0.6)
    axes.axhline(limit - 0.5, color=AMBER, linewidth=1.0, linestyle=DASHED)
    axes.text(
        1.015,
        limit - 0.5,
        "▲ past limit",
        transform=axes.get_yaxis_transform(),
        va="center",
        fontsize=SMALL_TEXT,
        color=AMBER,
    )
    ranges = [rating for rating in ratings if rating[2] > rating[1]]
    if ranges:
        positions, low, high = zip(*ranges, strict=True)
        axes.vlines(positions, low, high, color=SOFT, linewidth=1.6)
    size = 7.0 if len(ratings) <= MOST_LARGE else 4.5
    for past, marker, edge, face in ((False, "o", PETROL, PETROL_PALE), (True, "^", AMBER, AMBER)):
        marked = [rating for rating in ratings if (rating[1] >= limit) is past]
        if marked:
            axes.plot(
                [positions for positions, _, _ in marked],
                [(low + high) / 2.0 for _, low, high in marked],
                marker,
                color=edge,
                markerfacecolor=face,
                markeredgecolor=edge,
                markersize=size,
            )
    axes.set_yticks(range(1, RATING_LEVELS + 1))
    axes.set_ylabel(f"{channel} [1–{RATING_LEVELS}]")
