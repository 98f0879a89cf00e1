"""Each figure draws what it is given, at the edges of what can be given."""

from __future__ import annotations

import dataclasses

import numpy as np
import polars as pl
import pytest
from invented_report import FleetShape, build_report
from matplotlib.figure import Figure

from draincurve.pipeline.judging.channel_result import ChannelResult, Multiplier, PriorMovement
from draincurve.pipeline.judging.risk_curves import RiskCurve
from draincurve.reports.figures.channel_curve_figure import draw_channel_curve, draw_curves_by_kind, risk_hours
from draincurve.reports.figures.hours_left_figure import HoursRow, axis_end, draw_hours_left
from draincurve.reports.figures.multiplier_figure import draw_multipliers
from draincurve.reports.figures.prior_movement_figure import draw_prior_movement
from draincurve.reports.figures.svg_picture import inline_picture
from draincurve.reports.figures.unit_history_figure import RatedDrain, UnitHistory, draw_unit_history


def svg(figure: Figure) -> str:
    return str(inline_picture(figure, "p", title="t", description="d").svg)


def curve(scale: float = 1.0) -> RiskCurve:
    hours = np.array([1.0, 10.0, 20.0])
    return RiskCurve("s", "o", hours, scale * np.array([0.0, 0.2, 0.6]), np.zeros(3), np.ones(3))


def test_risk_hours_interpolates_and_never_goes_beyond_the_curve() -> None:
    assert risk_hours(curve(), 0.1) == pytest.approx(5.5)
    assert risk_hours(curve(), 0.7) is None
    assert risk_hours(curve(0.0), 0.1) is None


def test_hours_left_marks_what_is_over_unknown_and_open() -> None:
    rows = [
        HoursRow("over", 12.0, False, 10.0, 8.0, 14.0, True, "2.0 h over"),
        HoursRow("unknown", None, True, 10.0, 8.0, 14.0, False, "treat as due"),
        HoursRow("open", 2.0, True, 10.0, 8.0, 900.0, False, "8.0 h left"),
        HoursRow("bare", 2.0, False, None, None, None, False, "no interval"),
    ]
    figure = Figure()
    for width in (760.0, 370.0):
        draw_hours_left(figure, rows, width=width, end=axis_end(rows))
        drawn = svg(figure)
        assert all(f">{row.name}</text>" in drawn for row in rows)
        assert "hours not known" in drawn
        assert "var(--amber-pale)" in drawn
    assert axis_end(rows) == pytest.approx(1.18 * 12.0)
    assert axis_end([]) > 0.0


@pytest.mark.parametrize("drains", [180, 900])
def test_channel_curve_draws_marks_or_counts(drains: int) -> None:
    channel = build_report(FleetShape(drains=drains)).judged.channels[0]
    figure = Figure()
    draw_channel_curve(figure, channel, accepted_risk=0.1)
    drawn = svg(figure)
    assert ("one mark a drain" in drawn) == (drains <= 400)
    assert ("height: number of drains" in drawn) == (drains > 400)
    assert "accepted 10 %" in drawn
    assert len(drawn) < 60_000


def test_channel_curve_without_a_fit_or_a_drain_past_the_limit() -> None:
    ratings = pl.DataFrame({"oil_hours": [5.0, 9.0], "past_limit": [0, None]})
    figure = Figure()
    draw_channel_curve(figure, ChannelResult("colour", 4, "why", ratings), accepted_risk=0.1)
    assert "past the limit: 0" in svg(figure)


def test_curves_by_kind_draw_one_panel_each() -> None:
    figure = Figure()
    curves = [dataclasses.replace(curve(), spring_type=f"spring {index}") for index in range(5)]
    draw_curves_by_kind(figure, curves, fleet=curve(), accepted_risk=0.1)
    drawn = svg(figure)
    assert all(f"spring {index} · o" in drawn for index in range(5))


def test_multipliers_name_their_levels_and_stay_on_the_axis() -> None:
    figure = Figure()
    draw_multipliers(
        figure,
        [Multiplier("spring", "<a>", 5, 2, 0.72, 0.55, 0.94), Multiplier("spring", "b", 5, 2, 1.0, 0.0001, 9000.0)],
    )
    drawn = svg(figure)
    assert "0.72x (0.55 to 0.94)" in drawn
    assert "&lt;a&gt;" in drawn
    assert ">10x</text>" in drawn


def test_prior_movement_says_where_the_log_cannot_tell() -> None:
    figure = Figure()
    draw_prior_movement(figure, [PriorMovement("slope", "", 1.0, 0.95), PriorMovement("sd of units", "", 1.0, 0.3)])
    assert svg(figure).count("cannot tell") == 1


def test_unit_history_draws_every_channel_and_ranges() -> None:
    histories = [
        UnitHistory("colour", 4, (RatedDrain(5.0, 2, 3), RatedDrain(9.0, 5, 5))),
        UnitHistory("debris", 4, (RatedDrain(5.0, 1, 1),)),
    ]
    figure = Figure()
    draw_unit_history(figure, histories, interval_h=None, interval_range_h=None)
    assert "interval" not in svg(figure)
    draw_unit_history(figure, histories, interval_h=8.0, interval_range_h=(6.0, 500.0))
    drawn = svg(figure)
    assert "interval 8 h" in drawn
    assert drawn.count("latest") == 2
