"""What goes into a unit's picture over the calendar."""

from __future__ import annotations

from datetime import date

from invented_report import AS_OF
from matplotlib.figure import Figure

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.sections.drain_rows import drains_by_unit
from draincurve.reports.content.sections.unit_pictures import unit_picture, unit_timeline
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.unit_names import UnitNames

NAMES = UnitNames(frozenset())


def of_unit(race_team: PlanResult, name: str, **changed):
    """The unit's row, its drains with changed cells, and the channels."""
    row = next(one for one in service_rows(race_team.decided.next_service, NAMES, as_of=AS_OF) if one.name == name)
    drains = drains_by_unit(race_team.described.drains, NAMES)[name]
    return row, [cells | changed for cells in drains], race_team.judged.channels


def test_each_drain_ends_a_fill_that_began_at_the_one_before(race_team: PlanResult) -> None:
    row, drains, channels = of_unit(race_team, "F03")
    line = unit_timeline(row, drains, channels, as_of=AS_OF)
    days = [cells["drained_on"] for cells in drains]
    assert [fill.drained_on for fill in line.fills] == days
    assert [fill.began_on for fill in line.fills] == [None, *days[:-1]]
    assert line.now.began_on == days[-1]
    assert line.fills[0].ratings == tuple(
        (drains[0][f"{name}_low"], drains[0][f"{name}_high"]) for name in ("colour", "debris")
    )
    assert {fill.as_now for fill in line.fills} == {True}
    drains[0]["spring_type"] = "another"
    drains[1]["new_parts"] = "seals, Spring"
    drains[1]["oil_grade"] = "another"
    others = unit_timeline(row, drains, channels, as_of=AS_OF).fills
    assert [fill.as_now for fill in others[:3]] == [False, False, True]
    assert [fill.new_spring for fill in others[:3]] == [False, True, False]


def test_a_top_up_ends_no_fill_and_a_unit_that_is_due_is_due_today(race_team: PlanResult) -> None:
    row, drains, channels = of_unit(race_team, "F05")
    drains[1]["service_kind"] = "top-up"
    line = unit_timeline(row, drains, channels, as_of=AS_OF)
    assert line.top_ups == (drains[1]["drained_on"],)
    assert line.fills[1].began_on == drains[0]["drained_on"]
    assert row.due_now
    assert (line.now.due_on, line.now.early, line.now.due) == (AS_OF, None, "due now")


def test_a_drain_without_hours_or_ratings_is_kept_with_its_day(race_team: PlanResult) -> None:
    row, drains, channels = of_unit(race_team, "F03", oil_hours=None, colour_low=None, colour_high=None)
    line = unit_timeline(row, drains, channels, as_of=AS_OF)
    assert len(line.fills) == len(drains)
    assert {fill.hours for fill in line.fills} == {None}
    assert {fill.ratings[0] for fill in line.fills} == {None}
    said = unit_picture(Figure(), row, drains=drains, channels=channels, risk=None, as_of=AS_OF).description
    assert said.startswith(f"{len(drains)} fills drained from ")
    assert "Colour: 0 of 0 at or past 4." in said
    assert said.endswith(f"interval {row.interval_h:.1f} h, {row.due_text(AS_OF)}.")


def test_a_unit_in_a_log_of_one_drain_has_a_picture(race_team: PlanResult) -> None:
    row, drains, channels = of_unit(race_team, "F03", drained_on=date(2026, 5, 1))
    drawn = unit_picture(Figure(), row, drains=drains[:1], channels=channels, risk=None, as_of=AS_OF)
    assert "<svg" in str(drawn.svg)
