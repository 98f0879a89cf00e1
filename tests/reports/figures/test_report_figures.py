"""Each figure draws what it is given, at the edges of what can be given."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from invented_report import FleetShape, build_report
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.pipeline.judging.channel_result import ChannelResult, Multiplier, PriorMovement
from draincurve.pipeline.judging.risk_curves import RiskCurve
from draincurve.reports.figures.channel_curve_figure import draw_channel_curve, draw_curves_by_kind, risk_hours
from draincurve.reports.figures.date_axis import day_number
from draincurve.reports.figures.hours_left_figure import HoursRow, axis_end, draw_hours_left
from draincurve.reports.figures.multiplier_figure import draw_multipliers
from draincurve.reports.figures.prior_movement_figure import draw_prior_movement
from draincurve.reports.figures.rater_figure import RaterShiftRow, draw_raters
from draincurve.reports.figures.running_fill import RunningFill
from draincurve.reports.figures.svg_picture import inline_picture
from draincurve.reports.figures.unit_timeline_figure import Fill, UnitTimeline, draw_unit_timeline
from draincurve.reports.figures.wear_figure import UnitLine, WearPlot, draw_wear


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


AS_OF = date(2026, 6, 20)
RUNNING = RunningFill(
    as_of=AS_OF, as_of_text="20 Jun", began_on=date(2026, 6, 1), hours=7.0, estimated=False, spring="9.5 N/mm",
    interval_h=11.5, interval_range_h=(9.0, 15.0), due_on=date(2026, 7, 1), early=date(2026, 6, 28),
    late=date(2026, 7, 9), due="by Wed 1 Jul",
)  # fmt: skip


def fills(count: int, hours: float | None = 9.0) -> tuple[Fill, ...]:
    """The newest ends where the running fill begins; springs change half way."""
    days = [date(2026, 6, 1) - timedelta(days=9 * step) for step in reversed(range(count))]
    return tuple(
        Fill(before, day, hours, f"{9.0 + 0.5 * (2 * place >= count)} N/mm", ((2, 3), (5, 5)), as_now=place > 0)
        for place, (before, day) in enumerate(zip([None, *days[:-1]], days, strict=True))
    )


def timeline(drained: tuple[Fill, ...], **now) -> UnitTimeline:
    channels = (("colour", 4), ("debris", 4))
    return UnitTimeline(channels, drained, (date(2026, 5, 20),), dataclasses.replace(RUNNING, **now))


def drawn_axes(line: UnitTimeline) -> list[Axes]:
    figure = Figure()
    draw_unit_timeline(figure, line)
    return figure.axes


def wear_plot(*, scale: float, looks: tuple[tuple[float, str], ...]) -> WearPlot:
    hours = scale * np.array([2.0, 9.0, 20.0])
    worn = scale * np.array([0.1, 0.2, 0.4])
    line = UnitLine("F01", hours, worn, named=True)
    return WearPlot(
        (hours, worn), (hours[:1], worn[:1]), (hours, worn / 2, worn, 2 * worn), (line,),
        ((0.5 * scale, "limit"),), looks, None, "hours [h]", "play [mm]",
    )  # fmt: skip


@pytest.mark.parametrize("count", [3, 60])
def test_a_unit_is_drawn_on_one_axis_of_dates(count: int) -> None:
    strip, hours, *ratings = drawn_axes(timeline(fills(count)))
    assert len({axes.get_xlim() for axes in (strip, hours, *ratings)}) == 1
    first, last = hours.get_xlim()
    assert first < day_number(fills(count)[0].drained_on)
    assert day_number(RUNNING.late) < last  # type: ignore[arg-type]
    ends = {round(bar.get_x() + bar.get_width(), 3): bar.get_height() for bar in hours.patches}
    assert ends[day_number(AS_OF)] == 7.0
    assert all(ends[day_number(fill.drained_on)] == 9.0 for fill in fills(count)[1:])
    texts = {text.get_text() for axes in (strip, hours) for text in axes.texts}
    assert {"interval\n11.5 h", "by Wed 1 Jul", "20 Jun"} <= texts
    assert {"9.0 N/mm", "9.5 N/mm"} <= texts
    assert [axes.get_ylabel() for axes in ratings] == ["colour [1–5]", "debris [1–5]"]
    assert all(len(axes.lines[-1].get_xdata()) == count for axes in ratings)


@pytest.mark.parametrize("before", [timeline(fills(4, 3.0)), timeline(fills(9, 60.0), hours=None, interval_h=None)])
def test_a_unit_is_drawn_alike_whatever_was_drawn_before_it(before: UnitTimeline) -> None:
    used, fresh = Figure(), Figure()
    draw_unit_timeline(used, before)
    for figure in (used, fresh):
        draw_unit_timeline(figure, timeline(fills(6, 31.0)))
    assert svg(used) == svg(fresh)


def test_a_wear_picture_is_drawn_alike_whatever_was_drawn_before_it() -> None:
    used, fresh = Figure(), Figure()
    draw_wear(used, wear_plot(scale=1.0, looks=((0.2, "+20 %"),)))
    for figure in (used, fresh):
        draw_wear(figure, wear_plot(scale=40.0, looks=()))
    assert svg(used) == svg(fresh)


def test_a_spring_is_named_where_its_name_has_room() -> None:
    changing = [dataclasses.replace(fill, spring=f"spring {place % 2}") for place, fill in enumerate(fills(60))]
    strip, *_ = drawn_axes(timeline(tuple(changing)))
    assert {text.get_text() for text in strip.texts} == {"spring", "20 Jun"}
    assert len(strip.patches) == 61


def test_a_tick_names_its_month_and_the_year_where_it_begins() -> None:
    *_, last = drawn_axes(timeline(fills(60)))
    labels = [label.get_text() for label in last.get_xticklabels()]
    assert labels[0].endswith("\n2025")
    assert [label for label in labels if label.endswith("\n2026")] == ["Jan\n2026"]


def test_what_is_not_known_of_a_unit_is_drawn_as_such() -> None:
    unknown = {
        "hours": None,
        "interval_h": None,
        "interval_range_h": None,
        "due_on": None,
        "early": None,
        "late": None,
    }
    _, hours, *_ = drawn_axes(timeline(fills(3, hours=None), **unknown, due="treat as due"))
    assert [text.get_text() for text in hours.texts].count("?") == 4
    assert not hours.patches
    _, hours, *_ = drawn_axes(timeline((), began_on=None, estimated=True))
    assert [bar.get_hatch() for bar in hours.patches] == ["////"]


def test_a_far_due_date_leaves_room_for_the_past() -> None:
    _, hours, *_ = drawn_axes(timeline(fills(10), due_on=date(2034, 1, 1), late=date(2035, 1, 1)))
    first, last = hours.get_xlim()
    assert last - day_number(AS_OF) < 0.6 * (day_number(AS_OF) - first)
    assert [line.get_marker() for line in hours.lines].count(">") == 1


def test_levels_that_round_to_nought_have_no_sign() -> None:
    figure = Figure()
    draw_raters(figure, [RaterShiftRow("colour", "KB", -0.02, -0.3, 0.04, called=False)])
    assert "0.0 (-0.3 to 0.0)" in svg(figure)
