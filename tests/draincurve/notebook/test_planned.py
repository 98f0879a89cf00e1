import re

import matplotlib as mpl
import pandas as pd
import polars as pl
import pytest
from matplotlib import pyplot
from matplotlib.axes import Axes

import draincurve
from draincurve.pipeline.simulation.fleet_files import write_fleet
from draincurve.schemas.errors import SourceError

TABLES = ("next_service", "fleet_intervals", "springs", "reasons", "inspect_now", "held_back")


def test_the_frames_are_pandas_or_polars(fleet, result):
    assert all(isinstance(getattr(result, name), pd.DataFrame) for name in TABLES)
    other = draincurve.plan(result.log, frames="polars")
    assert all(isinstance(getattr(other, name), pl.DataFrame) for name in TABLES)
    assert other.next_service["unit_id"].to_list() == result.next_service["unit_id"].to_list()


def test_frames_give_the_plan_that_the_command_writes(fleet, result, tmp_path):
    write_fleet(
        {name: pl.from_pandas(getattr(fleet, name)) for name in ("drains", "units", "usage", "bookings")},
        tmp_path,
        kind="csv",
    )
    sides = {name: tmp_path / f"{name}.csv" for name in ("units", "usage", "bookings")}
    by_file = draincurve.plan(tmp_path / "drains.csv", fleet.as_of, **sides)
    pd.testing.assert_frame_equal(by_file.next_service, result.next_service)
    page = result.report(tmp_path / "out")
    assert page == tmp_path / "out" / "report.html"
    written = pd.read_csv(tmp_path / "out" / "next_service.csv")
    assert written["unit_id"].to_list() == result.next_service["unit_id"].to_list()
    assert written["interval_h"].to_numpy() == pytest.approx(
        result.next_service["interval_h"].to_numpy(), nan_ok=True
    )


def test_step_by_step_is_the_same_plan(fleet, result):
    log = draincurve.read(fleet.drains, fleet.as_of, units=fleet.units, usage=fleet.usage, bookings=fleet.bookings)
    described = draincurve.describe(log)
    fitted = draincurve.fit(log, described)
    judged = draincurve.judge(log, described, fitted=fitted)
    decided = draincurve.decide(log, described, fitted=fitted, judged=judged)
    assert decided.next_service.equals(result.decided.next_service)
    assert judged.spring_effects.equals(result.judged.spring_effects)
    assert result.log.log.accepted["drains"].equals(log.log.accepted["drains"])


def test_it_says_what_is_due_in_the_words_of_the_first_screen(result):
    assert re.fullmatch(r"<Plan for 7 units as of 2026-06-20: .*\.>", repr(result))
    html = result._repr_html_()
    assert repr(result)[1:-1].partition(": ")[2] in html
    for words in ("Due next", "Before you act on it", *result.next_service["unit_id"]):
        assert words in html
    assert "<html" not in html


@pytest.mark.usefixtures("drawn_in_memory")
def test_pictures_are_axes(result):
    before = dict(mpl.rcParams)
    unit = result.next_service["unit_id"][0]
    drawn = [result.plot.hours_left(), result.plot.channel("debris"), result.plot.unit(unit)]
    assert all(isinstance(axes, Axes) for axes in drawn)
    assert len({id(axes.figure) for axes in drawn}) == 3
    assert drawn[1].get_ylabel() == "debris at or past the limit"
    assert drawn[2].get_title("left") == unit
    texts = {text.get_text() for text in drawn[0].texts}
    assert set(result.next_service["unit_id"]) <= texts
    assert dict(mpl.rcParams) == before


@pytest.mark.usefixtures("drawn_in_memory")
def test_pictures_go_on_given_axes_and_leave_room_for_each_other(result):
    figure, (left, middle, right) = pyplot.subplots(1, 3, figsize=(18, 5), layout="constrained")
    assert result.plot.hours_left(ax=left) is left
    assert result.plot.channel("colour", ax=middle) is middle
    assert result.plot.unit(result.next_service["unit_id"][1], ax=right) is right
    figure.canvas.draw()
    assert all(axes.get_window_extent().width > 200 for axes in (left, middle, right))
    assert len(pyplot.get_fignums()) == 1


@pytest.mark.usefixtures("drawn_in_memory")
def test_a_unit_without_a_curve_is_drawn_by_its_ratings(fleet):
    drains = fleet.drains.drop(columns="colour_rating").assign(oil_hours=fleet.drains["oil_hours"])
    few = draincurve.plan(drains[drains["unit_id"] == "F01"].head(1), fleet.as_of)
    axes = few.plot.unit("F01")
    assert axes.get_xlabel() == "hours on the oil when drained [h]"


@pytest.mark.parametrize(
    ("kind", "name", "said"),
    [
        ("unit", "F1", r"unit 'F1': is not in this plan; did you mean F0\d"),
        ("unit", "zz", r"unit 'zz': is not in this plan; there are .*F0\d"),
        ("channel", "debri", "channel 'debri': is not in this plan; did you mean debris"),
        ("channel", "smell", "channel 'smell': is not in this plan; there are colour, debris"),
    ],
)
def test_a_name_that_is_not_there_names_near_ones(result, kind, name, said):
    with pytest.raises(SourceError, match=said):
        getattr(result.plot, kind)(name)


def test_a_unit_without_drains_cannot_be_drawn(fleet, result):
    idle = (set(fleet.units["unit_id"]) - set(fleet.drains["unit_id"])).pop()
    with pytest.raises(SourceError, match=f"unit {idle}: has no rated drain with known hours"):
        result.plot.unit(idle)
