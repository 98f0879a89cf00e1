"""One unit against the hours on the oil: its chance of oil past fit, its ratings, its interval with the range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import (
    AMBER,
    GRID,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    drawing_style,
    panels,
)
from draincurve.reports.figures.unit_risk_panel import UnitChance, draw_chance

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
    chance: UnitChance | None = None,
    width: float = 470.0,
) -> None:
    """Draw the chance of oil past fit, then one panel a channel: ratings by hours, the latest ringed, the limit.

    chance : None where no curve is at hand, and no panel then.
    """
    hours = [drain.oil_hours for history in histories for drain in history.drains]
    end = 1.15 * max([*hours, interval_h or 1.0, *([chance.now_h] if chance and chance.now_h else [])])
    above = chance is not None
    count = len(histories) + above
    margins = [(58.0, 20.0 + place * PANEL, 82.0, 38.0 + (count - 1 - place) * PANEL) for place in range(count)]
    with drawing_style():
        shared = panels(figure, width, 14.0 + PANEL * count + 32.0, margins)
        for place, axes in enumerate(shared):
            axes.set_xlim(0.0, end)
            _interval(axes, interval_h, interval_range_h, end, named=place == 0)
            axes.tick_params(labelbottom=place == count - 1)
        if chance is not None:
            draw_chance(shared[0], chance, end)
        shared[-1].set_xlabel("hours on the oil when drained [h]")
        for history, axes in zip(histories, shared[above:], strict=True):
            axes.set_ylim(0.5, RATING_LEVELS + 0.6)
            axes.axhline(history.limit - 0.5, color=AMBER, linewidth=1.0, linestyle=(0, (5, 3)))
            axes.text(
                1.015,
                history.limit - 0.5,
                "▲ past limit",
                transform=axes.get_yaxis_transform(),
                va="center",
                fontsize=SMALL_TEXT,
                color=AMBER,
            )
            _drains(axes, history)
            axes.set_yticks(range(1, RATING_LEVELS + 1))
            axes.set_ylabel(f"{history.channel} [1–{RATING_LEVELS}]")
            axes.grid(axis="y", color=GRID)
            axes.set_axisbelow(True)
            axes.spines["left"].set_visible(False)


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
    ranges = [drain for drain in history.drains if drain.high > drain.low]
    if ranges:
        axes.vlines(
            [drain.oil_hours for drain in ranges],
            [drain.low for drain in ranges],
            [drain.high for drain in ranges],
            color=SOFT,
            linewidth=1.6,
        )
    for past, marker, edge, face in ((False, "o", PETROL, PETROL_PALE), (True, "^", AMBER, AMBER)):
        marked = [drain for drain in history.drains if (drain.low >= history.limit) is past]
        if marked:
            axes.plot(
                [drain.oil_hours for drain in marked],
                [(drain.low + drain.high) / 2.0 for drain in marked],
                marker,
                color=edge,
                markerfacecolor=face,
                markeredgecolor=edge,
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
