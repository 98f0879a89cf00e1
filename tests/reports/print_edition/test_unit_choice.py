"""Which units get a section: all of a small fleet, those that say something of a large one, and words on it."""

from __future__ import annotations

from invented_fleet import FleetShape, build_report

from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.content.service_rows import FASTER, SLOWER
from draincurve.reports.print_edition.unit_choice import (
    ALL_UP_TO,
    LATEST_DRAINS,
    MOST_DUE,
    choice_words,
    drains_to_print,
    units_to_print,
)


def test_a_small_fleet_is_printed_whole(race_content: ReportContent) -> None:
    assert units_to_print(race_content.units, race_content.as_of) == race_content.units
    assert choice_words(16, 16) == ""


def test_of_a_large_fleet_no_unit_that_speaks_is_left_out() -> None:
    content = report_content(build_report(FleetShape(units=2 * ALL_UP_TO, drains=900)))
    printed = units_to_print(content.units, content.as_of)
    names = {unit.row.name for unit in printed}
    speaking = {
        unit.row.name
        for unit in content.units
        if unit.row.standing in (FASTER, SLOWER) or unit.row.turned or unit.inspect
    }
    assert speaking
    assert speaking <= names
    due_now = [unit.row.name for unit in content.units if unit.row.due_now]
    assert set(due_now[:MOST_DUE]) <= names
    assert len(printed) < len(content.units)
    assert [unit for unit in content.units if unit.row.name in names] == list(printed), "in the order of the report"
    assert f"{len(printed)} have a section here" in choice_words(len(printed), len(content.units))


def test_a_large_fleet_lists_all_drains_of_units_that_speak_and_the_latest_of_others(
    race_content: ReportContent,
) -> None:
    for unit in race_content.units:
        speaks = unit.row.standing in (FASTER, SLOWER) or unit.row.turned or bool(unit.inspect)
        listed = drains_to_print(unit, ALL_UP_TO + 1)
        assert listed == (unit.drains if speaks else unit.drains[:LATEST_DRAINS])
        assert drains_to_print(unit, ALL_UP_TO) == unit.drains
