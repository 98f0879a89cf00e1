"""The chance of a rating at or past the limit by hours: fitted curve, band, drains, steps without a model."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from draincurve.pipeline.judging import ChannelResult, RiskCurve
from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    INK,
    PETROL,
    PETROL_PALE,
    PLUM,
    SMALL_TEXT,
    SOFT,
    TEXT_SIZE,
    Margins,
    accepted_label,
    axes_at,
    drawing_style,
    grid_behind,
    label_text,
    resize,
    single_axes,
)
from draincurve.schemas.array_types import Floats

MOST_POINTS = 400
"""More drains than this are drawn as counts over hours, not one mark each."""

GOLDEN_RATIO = 0.6180339887498949
"""Multiples of it modulo 1 scatter marks evenly, the same way in every run."""

_MARGINS = Margins(left=46.0, top=14.0, right=16.0, bottom=40.0)
_WIDTH = 420.0
_COLUMNS, _PANEL_HEIGHT = 2, 128.0


def draw_channel_curve(figure: Figure, channel: ChannelResult, *, accepted_risk: float) -> None:
    """Draw one channel over the whole fleet; without a fit, the drains and the steps alone."""
    with single_axes(figure, width=_WIDTH, height=350.0, margins=_MARGINS) as axes:
        channel_curve_on(axes, channel, accepted_risk=accepted_risk)


def channel_curve_on(axes: Axes, channel: ChannelResult, *, accepted_risk: float) -> None:
    """Draw one channel over the whole fleet on given axes."""
    past, within = _hours_by_outcome(channel)
    end = _axis_end(channel, past, within=within)
    axes.set_xlim(0.0, end)
    axes.set_ylim(-0.25, 1.25)
    draw_drains(axes, past, within=within, end=end)
    _draw_steps(axes, channel, end=end)
    if channel.fleet_curve is not None:
        _draw_curve(axes, channel.fleet_curve, accepted_risk=accepted_risk, end=end)
    axes.axhline(accepted_risk, color=AMBER, linewidth=1.0, linestyle=DASHED)
    axes.text(end, accepted_risk + 0.012, accepted_label(accepted_risk), **_label(AMBER, "right"))
    axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0])
    axes.yaxis.set_major_formatter(PercentFormatter(1.0, symbol=" %"))
    grid_behind(axes, "y")
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("hours on the oil when drained [h]")


def draw_curves_by_kind(
    figure: Figure, curves: Sequence[RiskCurve], *, fleet: RiskCurve, accepted_risk: float
) -> None:
    """Draw one small panel for each spring and oil, the fleet's curve in grey behind each."""
    panel_rows = -(-len(curves) // _COLUMNS)
    height = 38.0 + _PANEL_HEIGHT * panel_rows
    resize(figure, width=_WIDTH, height=height)
    gap, left, right = 14.0, 40.0, 8.0
    panel_width = (_WIDTH - left - right - gap) / _COLUMNS
    end = max(float(curve.hours.max()) for curve in curves)
    with drawing_style():
        for index, curve in enumerate(curves):
            row, column = divmod(index, _COLUMNS)
            x = left + column * (panel_width + gap)
            top = 30.0 + row * _PANEL_HEIGHT
            axes = axes_at(figure, Margins(x, top, _WIDTH - x - panel_width, height - top - 92.0))
            axes.fill_between(curve.hours, curve.low, curve.high, color=PETROL_PALE, linewidth=0)
            axes.plot(fleet.hours, fleet.risk, color=SOFT, linewidth=1.0, linestyle=(0, (4, 2)))
            axes.plot(curve.hours, curve.risk, color=PETROL, linewidth=2.0)
            axes.axhline(accepted_risk, color=AMBER, linewidth=0.8, linestyle=DASHED)
            axes.set_xlim(0.0, end)
            axes.set_ylim(0.0, 1.0)
            title = label_text(f"{curve.spring_type} · {curve.oil_grade}", 30)
            axes.set_title(title, loc="left", fontsize=SMALL_TEXT, pad=4)
            axes.set_yticks([0.0, 0.5, 1.0])
            axes.yaxis.set_major_formatter(PercentFormatter(1.0, symbol=" %"))
            axes.tick_params(labelleft=column == 0, labelsize=SMALL_TEXT)
            grid_behind(axes, "y")
            if index >= len(curves) - _COLUMNS:
                axes.set_xlabel("hours on the oil [h]", fontsize=SMALL_TEXT)


def risk_hours(curve: RiskCurve, risk: float) -> float | None:
    """The hours [h] at which the curve first reaches this risk; None if it does not in its range."""
    reached = np.flatnonzero(curve.risk >= risk)
    if reached.size == 0 or reached[0] == 0:
        return None
    after = int(reached[0])
    return float(np.interp(risk, curve.risk[after - 1 : after + 1], curve.hours[after - 1 : after + 1]))


def _label(colour: str, side: str) -> dict[str, Any]:
    return {"ha": side, "va": "bottom", "fontsize": SMALL_TEXT, "color": colour}


def _hours_by_outcome(channel: ChannelResult) -> tuple[Floats, Floats]:
    """Hours of drains past the limit and of those within it [h]."""
    hours = channel.ratings["oil_hours"].to_numpy().astype(float)
    past = channel.ratings["past_limit"].cast(float).to_numpy()
    return hours[past == 1.0], hours[past == 0.0]


def _axis_end(channel: ChannelResult, past: Floats, *, within: Floats) -> float:
    hours = np.concatenate([past, within])
    if channel.fleet_curve is not None:
        return float(channel.fleet_curve.hours.max())
    return 1.05 * float(hours.max()) if hours.size else 10.0


def draw_drains(
    axes: Axes, past: Floats, *, within: Floats, end: float, sides: tuple[str, str] = ("left", "right")
) -> None:
    """Drains past the limit in a strip above the curve, the others below it: triangles and dots, or counts.

    sides : left or right, where the two strips are labelled.
    """
    one_by_one = past.size + within.size <= MOST_POINTS
    if one_by_one:
        for hours, base, marker, colour in ((past, 1.055, "^", AMBER), (within, -0.125, "o", PETROL)):
            heights = base + 0.08 * np.mod(np.arange(hours.size) * GOLDEN_RATIO, 1.0)
            axes.plot(
                hours,
                heights,
                marker,
                color=colour,
                markersize=3.6,
                alpha=0.7,
                markeredgewidth=0,
                clip_on=False,
            )
    else:
        edges = np.linspace(0.0, end, 41)
        counts = [np.histogram(hours, edges)[0] for hours in (past, within)]
        tallest = max(1, max(int(count.max()) for count in counts))
        for count, base, direction, colour in (
            (counts[0], 1.04, 1.0, AMBER),
            (counts[1], -0.04, -1.0, PETROL),
        ):
            axes.stairs(base + direction * 0.12 * count / tallest, edges, baseline=base, fill=True, color=colour)
    legend = "one mark a drain" if one_by_one else "height: number of drains"
    edge_of = {"left": 0.0, "right": end}
    above, below = sides
    axes.text(edge_of[above], 1.165, f"past the limit: {past.size}", **_label(AMBER, above))
    axes.text(edge_of[below], -0.235, f"not past: {within.size} ({legend})", **_label(PETROL, below))


def _draw_steps(axes: Axes, channel: ChannelResult, *, end: float) -> None:
    """The share past the limit without a model."""
    if channel.steps is None or channel.steps.hours.size == 0:
        return
    hours = np.append(channel.steps.hours, max(end, float(channel.steps.hours[-1])))
    share = np.append(channel.steps.share, channel.steps.share[-1])
    axes.step(hours, share, where="post", color=PLUM, linewidth=1.2, linestyle=(0, (1.2, 1.2)))
    half = int(np.argmax(share >= 0.5 * share.max()))
    axes.annotate(
        "steps: no model",
        (float(hours[half]), float(share[half])),
        xytext=(0.02 * end, 0.9),
        ha="left",
        va="center",
        fontsize=SMALL_TEXT,
        color=PLUM,
        arrowprops={"arrowstyle": "-", "color": PLUM, "linewidth": 0.7, "shrinkA": 1, "shrinkB": 0},
    )


def _draw_curve(axes: Axes, curve: RiskCurve, *, accepted_risk: float, end: float) -> None:
    """The fleet's curve with its band, and where it reaches the accepted risk."""
    axes.fill_between(curve.hours, curve.low, curve.high, color=PETROL_PALE, linewidth=0, alpha=0.75)
    axes.plot(curve.hours, curve.risk, color=PETROL, linewidth=2.2)
    labelled = int(np.searchsorted(curve.high, 0.6 * float(curve.high.max())))
    axes.annotate(
        "the fleet",
        (float(curve.hours[labelled]), float(curve.high[labelled])),
        xytext=(-4, 3),
        textcoords="offset points",
        ha="right",
        fontsize=TEXT_SIZE,
        weight="bold",
        color=PETROL,
    )
    reached = risk_hours(curve, accepted_risk)
    if reached is not None and reached < end:
        axes.plot([reached], [accepted_risk], "o", color=INK, markersize=6)
        axes.annotate(
            f"{reached:.1f} h",
            (reached, accepted_risk),
            xytext=(-5, 6),
            textcoords="offset points",
            ha="right",
            fontsize=TEXT_SIZE,
            weight="bold",
        )
