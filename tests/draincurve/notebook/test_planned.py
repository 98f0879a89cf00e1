import re
from dataclasses import replace

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


@pytest.mark.usefixtures("without_evidence")
def test_the_frames_are_pandas_or_polars(fleet, result):
    assert all(isinstance(getattr(result, name), pd.DataFrame) for name in TABLES)
    other = draincurve.plan(result.log, frames="polars")
    assert all(isinstance(getattr(other, name), pl.DataFrame) for name in TABLES)
    assert other.next_service["unit_id"].to_list() == result.next_service["unit_id"].to_list()


@pytest.mark.usefixtures("without_evidence")
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


def test_a_report_into_what_is_no_path_is_one_clear_error(result):
    with pytest.raises(SourceError, match="folder: found int; expected a path"):
        result.report(5)


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
    said = "range of the hours of the oil alone"
    assert (said in html) is bool(set(result.next_service["set_by"].dropna()) - {"colour", "debris"})
    worn = result.decided.next_service.with_columns(pl.lit("wear").alias("set_by"))
    run = replace(result.run, decided=replace(result.decided, next_service=worn))
    assert said in replace(result, run=run)._repr_html_()


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
        ("unit", ["F01"], r"^unit: found list; expected one name, such as '\w+'$"),
        ("channel", None, "^channel: found NoneType; expected one name, such as 'colour'$"),
    ],
)
def test_a_name_that_is_not_there_names_near_ones(result, kind, name, said):
    with pytest.raises(SourceError, match=said):
        getattr(result.plot, kind)(name)


@pytest.mark.parametrize("draw", [lambda plot: plot.hours_left(ax="x"), lambda plot: plot.channel("debris", ax="x")])
def test_only_axes_can_be_drawn_on(result, draw):
    with pytest.raises(SourceError, match=r"^ax: found str; expected matplotlib Axes$"):
        draw(result.plot)


def test_each_step_names_the_step_whose_result_it_needs(result):
    log, described, fitted, judged = result.log, result.described, result.fitted, result.judged
    wrong = {
        "^log: found str; expected what `read` gave$": lambda: draincurve.describe("log.csv"),
        "^described: found NoneType; expected what `describe` gave$": lambda: draincurve.fit(log, None),
        "^fitted: found Described; expected what `fit`": lambda: draincurve.judge(log, described, fitted=described),
        "^judged: found Fitted; expected what `judge` gave$": lambda: draincurve.decide(
            log, described, fitted=fitted, judged=fitted
        ),
        "^log: found Log; expected what `read` gave$": lambda: draincurve.decide(
            log.log, described, fitted=fitted, judged=judged
        ),
        "^log: found Plan; expected what `read` gave, a path": lambda: draincurve.plan(result),
        "^origins: found str; expected a whole number$": lambda: draincurve.backtest(log, origins="2"),
    }
    for said, call in wrong.items():
        with pytest.raises(SourceError, match=said):
            call()


@pytest.mark.usefixtures("without_evidence")
def test_a_log_that_ended_long_ago_is_said_to_have_ended(fleet, result):
    assert not any("The log ends" in sentence for sentence in result.warnings)
    last = pd.to_datetime(fleet.drains["drained_on"]).max()
    for days, said in ((60, False), (61, True)):
        late = draincurve.plan(fleet.drains, (last + pd.Timedelta(days=days)).date())
        words = f"The log ends on {last:%-d %b %Y}, {days} days before the day of this plan"
        assert any(words in sentence for sentence in late.warnings) is said
        assert (words in repr(late)) is said
        assert (words in late._repr_html_()) is said
    ridden = fleet.usage.head(1).assign(date=(last + pd.Timedelta(days=30)).date())
    seen = draincurve.plan(fleet.drains, (last + pd.Timedelta(days=80)).date(), usage=ridden)
    assert not any("The log ends" in sentence for sentence in seen.warnings)


@pytest.mark.usefixtures("drawn_in_memory")
def test_labels_of_a_unit_keep_clear_of_the_line_of_its_interval(result):
    drained = set(result.log.accepted["drains"]["unit_id"])
    rows = result.next_service[result.next_service["unit_id"].isin(drained)].dropna(subset="interval_h")
    checked = 0
    for unit, interval_h in zip(rows["unit_id"], rows["interval_h"], strict=True):
        axes = result.plot.unit(unit)
        if not axes.get_ylabel().startswith("oil past fit; drains by "):
            continue
        axes.figure.canvas.draw()
        line = axes.transData.transform((interval_h, 0.0))[0]
        boxes = {text.get_text(): text.get_window_extent() for text in axes.texts}
        strips = [box for words, box in boxes.items() if words.startswith(("past the limit", "not past"))]
        assert len(strips) == 2
        assert not any(box.x0 <= line <= box.x1 for box in strips)
        interval = next(box for words, box in boxes.items() if words.startswith("interval"))
        assert not interval.overlaps(axes.title.get_window_extent())
        assert not interval.overlaps(axes._left_title.get_window_extent())
        checked += 1
    assert checked > 3


@pytest.mark.usefixtures("drawn_in_memory")
def test_the_drains_in_a_units_picture_are_of_the_channel_that_sets_its_interval(result):
    drains, drawn = result.log.accepted["drains"], set()
    for unit, channel in zip(result.next_service["unit_id"], result.next_service["set_by"], strict=True):
        ratings = drains.loc[drains["unit_id"] == unit, ["colour_low", "debris_low"]]
        if channel not in ("colour", "debris") or ratings.empty:
            continue
        axes = result.plot.unit(unit)
        assert axes.get_ylabel() == f"oil past fit; drains by {channel}"
        past = (ratings[f"{channel}_low"] >= 4).sum()
        assert f"past the limit: {past}" in [text.get_text() for text in axes.texts]
        drawn.add(channel)
    assert "debris" in drawn


def test_a_unit_without_drains_cannot_be_drawn(fleet, result):
    idle = (set(fleet.units["unit_id"]) - set(fleet.drains["unit_id"])).pop()
    with pytest.raises(SourceError, match=f"unit {idle}: has no rated drain with known hours"):
        result.plot.unit(idle)
