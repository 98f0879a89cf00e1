"""The page's section on measured values."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import polars as pl
import pytest
from invented_report import AS_OF, HOSTILE, altered
from matplotlib.figure import Figure
from page_part import page_part, whole_page
from page_reader import PageReader

from draincurve.pipeline.deciding.wear_result import FleetLine, QuantityWear, UnitWear, WearResult
from draincurve.pipeline.describing.wear_limits import WearLimit
from draincurve.pipeline.fitting.degradation.fitted_quantity import WearFit
from draincurve.pipeline.judging.fleet_limits import FleetLimit
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.sections.wear_pictures import unit_wear_picture
from draincurve.reports.content.sections.wear_section import wear_section
from draincurve.reports.figures.figure_style import AMBER

HOURS = np.linspace(0.0, 150.0, 7)


def unit(key: str, value: float | None = 0.2, allowed: float | None = 30.0, **more: object) -> UnitWear:
    known = UnitWear(key, key, None, 4, value, date(2026, 5, 1), False, 100.0, 130.0, False, 128.0, 140.0, None,
                     allowed, "said", "said")  # fmt: skip
    return replace(known, **more)


def channel(units: tuple[UnitWear, ...], **more: object) -> QuantityWear:
    readings = pl.DataFrame(
        {"unit_key": ["F01", "F01", "F02"], "clock_h": [10.0, 100.0, None], "value": [0.1, 0.2, 0.15],
         "now": [True, True, True]}
    )  # fmt: skip
    known = QuantityWear(
        name="bush_clearance", title="Bush clearance", meaning="play between bush and tube", unit="mm", clock="part",
        worse="rising", limit=WearLimit(None, 0.35, "mm", "the maker's limit", "0.35 mm"), readings=readings,
        why_not=None, left_out=("1 of 3 readings are shown but not fitted.",),
        fit=WearFit(False, (0.1, 0.01), (0.001, 0.0001), 0.01, 0.0003, 0.01, 12.0, 300.0, ""),
        fleet_line=FleetLine(HOURS, 0.1 + 0.001 * HOURS, 0.05 + 0.0 * HOURS, 0.2 + 0.002 * HOURS),
        unit_lines={"F01": (HOURS, 0.1 + 0.0015 * HOURS)}, units=units, looks=None, fleet_limit="", farthest_h=150.0,
    )  # fmt: skip
    return replace(known, **more)


def result(*channels: QuantityWear) -> WearResult:
    return WearResult(channels, (("fork twist", "deg", 2),), ("weep = '3 ml/h'",), pl.DataFrame(), pl.DataFrame())


def section(*channels: QuantityWear):
    found = wear_section(Figure(), result(*channels), in_service={"F01", "F02"}, as_of=AS_OF)
    assert found is not None
    return found


def test_nothing_measured_shows_nothing(race_page: str, race_team: PlanResult) -> None:
    assert wear_section(Figure(), None, in_service=set(), as_of=AS_OF) is None
    assert race_team.decided.wear is None
    assert 'id="wear"' not in race_page
    assert 'href="#wear"' not in race_page


def test_units_past_the_limit_come_first_then_what_is_left() -> None:
    units = (
        unit("F01"),
        unit("F02", allowed=12.0),
        unit("F03", 0.4, 0.0, past_limit=True),
        unit("F04", beyond_range=True),
    )
    found = section(channel(units)).quantities[0]
    assert [row.name for row in found.rows] == ["F03", "F02", "F01"]
    worst = found.rows[0]
    assert (worst.inspect_by, worst.left, worst.past_limit, worst.anchor) == ("now", "none", True, "")
    assert "past its limit" in worst.latest
    assert found.rows[1].line_meets == "140 h (128 h to over 150 h)"
    assert "1 unit more: the limit is not reached within 150 h" in found.more


def test_the_limit_and_its_source_are_said() -> None:
    said = " ".join(section(channel((unit("F01"),))).quantities[0].sentences)
    assert "Limit: 0.35 mm or more (the maker's limit, written as '0.35 mm')." in said
    assert "In ten hours it changes by 0.01 mm" in said


def test_growth_that_may_be_none_is_not_called_safe() -> None:
    fit = WearFit(True, (0.1, 0.01), (0.001, 0.01), 0.01, 0.0003, 0.01, 12.0, 300.0, "")
    said = " ".join(section(channel((unit("F01"),), fit=fit)).quantities[0].sentences)
    assert "may be zero or opposite, which is not taken as safe" in said
    assert "% in the typical unit" in said


def test_a_limit_from_the_fleet_is_never_a_clearance() -> None:
    limit = FleetLimit("over", 0.95, 60.0, 55.0, 71.0, 55.0, "percentile by order statistics", 80, 9, 0.11)
    said = " ".join(section(channel((unit("F01"),), limit=None, fleet_limit=limit)).quantities[0].sentences)
    assert "Take a look from 55 mm on: 9 of the 80 are there now, and if all were healthy about 11 %" in said
    assert "sets no date, and never says that a part is fit to ride" in said


@pytest.mark.parametrize(("value", "mark"), [(-12.0, "time to act"), (6.0, "worth a look"), (3.0, "")])
def test_first_looks_of_the_trade(value: float, mark: str) -> None:
    one = channel((unit("F01", value, None),), limit=None, looks=(5.0, 10.0), worse="either", unit="% from new")
    found = section(one).quantities[0]
    assert found.rows[0].latest.endswith(mark)
    assert ("," in found.rows[0].latest) is bool(mark)
    assert "trade literature" in " ".join(found.sentences)


def test_no_fit_says_why() -> None:
    bare = channel((unit("F01"),), why_not="no reading has known hours", fit=None, fleet_line=None, unit_lines={})
    assert "No line was fitted: no reading has known hours." in section(bare).quantities[0].sentences


def test_the_page_holds_the_section_whatever_the_names(few_units: PlanResult) -> None:
    units = tuple(unit(name) for name in (*HOSTILE, *few_units.decided.next_service["unit_id"]))
    lines = dict.fromkeys(HOSTILE, (HOURS, 0.1 + 0.001 * HOURS))
    wear = result(channel(units, unit_lines=lines), channel(units, limit=None))
    page = whole_page(altered(few_units, wear=wear))
    read = PageReader(page)
    assert read.faults == []
    assert len(read.values("id")) == len(set(read.values("id")))
    assert 'id="wear"' in page
    assert "<script>alert" not in page
    assert "fork twist [deg], 2 readings" in page
    assert page == whole_page(altered(few_units, wear=wear))


def drawn(*units: UnitWear) -> list[tuple[list[float], list[float]]]:
    """Hours and heights of what is drawn on the limit for the units nearest to it: bars, then marks."""
    figure = Figure()
    wear_section(figure, result(channel(units)), in_service=set(), as_of=AS_OF)
    lines = figure.axes[0].lines
    return [
        (np.asarray(line.get_xdata()).tolist(), np.asarray(line.get_ydata()).tolist())
        for line in lines
        if line.get_zorder() in (3, 4) and line.get_color() == AMBER
    ]


def test_the_expected_crossing_lies_on_the_limit_with_its_range() -> None:
    """To the end of the axis where the range ends beyond what was measured; none where the limit is passed."""
    bar, mark = drawn(unit("F01"))
    assert bar == ([128.0, pytest.approx(153.0)], [0.35, 0.35])
    assert mark == ([140.0], [0.35])
    assert drawn(unit("F01", line_high=149.0))[0][0] == [128.0, 149.0]
    assert drawn(unit("F01", line_middle=None))[1:] == []
    assert drawn(unit("F01", past_limit=True)) == []


def readings(values: list[float]) -> pl.DataFrame:
    hours = [20.0 * place for place in range(len(values))]
    return pl.DataFrame({"unit_key": "F01", "clock_h": hours, "value": values, "now": True})


@pytest.mark.parametrize(("values", "below"), [([3.0, 2.0, 1.0], False), ([3.0, -0.5, 1.0], True)])
def test_what_was_never_read_below_nought_is_not_drawn_there(values: list[float], below: bool) -> None:
    figure = Figure()
    falling = channel((unit("F01"),), readings=readings(values), unit_lines={"F01": (HOURS, 3.0 - 0.03 * HOURS)})
    wear_section(figure, result(falling), in_service=set(), as_of=AS_OF)
    assert bool(figure.axes[0].get_ylim()[0] < 0) is below


def test_a_unit_has_the_picture_of_what_leaves_it_the_fewest_hours() -> None:
    figure = Figure()
    later = channel((unit("F01", allowed=40.0),), title="Free length", readings=readings([1.0, 1.1]))
    sooner = channel((unit("F01", allowed=12.0), unit("F02", allowed=1.0)))
    unlimited = channel((unit("F01", allowed=None),), limit=None)
    drawn = unit_wear_picture(figure, result(later, unlimited, sooner), "F01", prefix="p")
    assert drawn is not None
    assert drawn.title == "F01: bush clearance over hours on the part"
    assert sum(len(line.get_xdata()) for line in figure.axes[0].lines if line.get_marker() == "o") == 2
    assert "this unit" in str(drawn.svg)
    assert unit_wear_picture(figure, result(sooner), "F02", prefix="p") is None, "its reading has no hours"
    assert unit_wear_picture(figure, None, "F01", prefix="p") is None


def test_hours_on_this_oil_are_counted_from_its_start() -> None:
    found = section(channel((unit("F01", allowed=4.7),)))
    assert found.quantities[0].rows[0].left == "4.7 h"
    assert "On this oil, until" in page_part("wear", wear=found)
