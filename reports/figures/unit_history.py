"""One unit's ratings against the hours on the oil, with its interval and what the fleet would have had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from reports.figures.style import (
    AMBER,
    GRID,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    axes_at,
    drawing_style,
    resize,
)

RATING_LEVELS = 5
PANEL = 118.0


@dataclass(frozen=True, slots=True)
class RatedDrain:
    """One rating of one drain; hours [h]; low and high differ where a range was typed."""

    oil_hours: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class UnitHistory:
    """One channel of one unit, drains in order of date."""

    channel: str
    limit: int
    drains: tuple[RatedDrain, ...]


def draw_unit_history(
    figure: Figure,
    histories: Sequence[UnitHistory],
    interval_h: float | None,
    interval_range_h: tuple[float, float] | None,
    width: float = 420.0,
) -> None:
    """Draw one panel a channel: ratings by hours, the latest ringed, limit and interval."""
    resize(figure, width, 14.0 + PANEL * len(histories) + 32.0)
    hours = [drain.oil_hours for history in histories for drain in history.drains]
    end = 1.15 * max([*hours, interval_h or 1.0])
    with drawing_style():
        for place, history in enumerate(histories):
            top = 20.0 + place * PANEL
            bottom = 38.0 + (len(histories) - 1 - place) * PANEL
            axes = axes_at(figure, left=58.0, top=top, right=12.0, bottom=bottom)
            axes.set_xlim(0.0, end)
            axes.set_ylim(0.5, RATING_LEVELS + 0.6)
            _interval(axes, interval_h, interval_range_h, end, named=place == 0)
            axes.axhline(history.limit - 0.5, color=AMBER, linewidth=1.0, linestyle=(0, (5, 3)))
            axes.text(0.01 * end, history.limit - 0.44, "past the limit", fontsize=SMALL_TEXT, color=AMBER)
            _drains(axes, history)
            axes.set_yticks(range(1, RATING_LEVELS + 1))
            axes.set_ylabel(f"{history.channel} [1–{RATING_LEVELS}]")
            axes.grid(axis="y", color=GRID)
            axes.set_axisbelow(True)
            axes.spines["left"].set_visible(False)
            if place < len(histories) - 1:
                axes.tick_params(labelbottom=False)
            else:
                axes.set_xlabel("hours on the oil when drained [h]")


def _interval(
    axes: Axes, interval_h: float | None, range_h: tuple[float, float] | None, end: float, named: bool
) -> None:
    if range_h is not None:
        axes.axvspan(min(range_h[0], end), min(range_h[1], end), color=GRID, alpha=0.6, linewidth=0)
    if interval_h is not None:
        axes.axvline(interval_h, color=INK, linewidth=2.0)
        if named:
            axes.annotate(
                f"interval {interval_h:g} h",
                (interval_h, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(-3.0, 3.0),
                textcoords="offset points",
                ha="right" if interval_h > 0.3 * end else "left",
                fontsize=SMALL_TEXT,
                color=INK,
            )


def _drains(axes: Axes, history: UnitHistory) -> None:
    """Triangles past the limit, dots before it, a line over both levels of a range."""
    for drain in history.drains:
        past = drain.low >= history.limit
        if drain.high > drain.low:
            axes.plot([drain.oil_hours] * 2, [drain.low, drain.high], color=SOFT, linewidth=1.6)
        axes.plot(
            [drain.oil_hours],
            [(drain.low + drain.high) / 2.0],
            "^" if past else "o",
            color=AMBER if past else PETROL,
            markerfacecolor=AMBER if past else PETROL_PALE,
            markeredgecolor=AMBER if past else PETROL,
            markersize=7.0,
        )
    if history.drains:
        last = history.drains[-1]
        axes.plot(
            [last.oil_hours],
            [(last.low + last.high) / 2.0],
            "o",
            markersize=13.0,
            markerfacecolor="none",
            markeredgecolor=INK,
            markeredgewidth=1.1,
        )
        axes.annotate(
            "latest",
            (last.oil_hours, (last.low + last.high) / 2.0),
            xytext=(9.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL_TEXT,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.6, "pad": 0.5},
        )
