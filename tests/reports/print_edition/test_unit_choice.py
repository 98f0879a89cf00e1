"""Which units get a section: all of a small fleet, those with a finding of a large one, and the sentence about it."""

from __future__ import annotations

from dataclasses import replace

from empty_pictures import empty_pictures
from invented_report import FleetShape, build_report

from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.print_edition.unit_choice import (
    ALL_UP_TO,
    LATEST_DRAINS,
    MOST_DUE,
    choice_text,
    drains_to_print,
    units_to_print,
)
from draincurve.schemas.next_service_table import FASTER, SLOWER


def test_a_small_fleet_is_printed_whole(race_content: ReportContent) -> None:
    units = race_content.units
    assert units_to_print(units, as_of=race_content.as_of) == units
    assert choice_text(units, units=16) == "Soonest due first."


def test_units_without_a_drain_come_last(race_content: ReportContent) -> None:
    first, *others = race_content.units
    bare = replace(first, drains=())
    printed = units_to_print((bare, *others), as_of=race_content.as_of)
    assert printed == (*others, bare)
    assert choice_text(printed, units=16) == "Soonest due first; units without a drain come last."


def test_of_a_large_fleet_no_unit_with_a_finding_is_left_out() -> None:
    with empty_pictures():
        content = report_content(build_report(FleetShape(units=2 * ALL_UP_TO, drains=900)))
    printed = units_to_print(content.units, as_of=content.as_of)
    names = {unit.row.name for unit in printed}
    with_finding = {
        unit.row.name
        for unit in content.units
        if unit.row.standing in (FASTER, SLOWER) or unit.row.turned or unit.inspect
    }
    assert with_finding
    assert with_finding <= names
    due_now = [unit.row.name for unit in content.units if unit.row.due_now]
    assert set(due_now[:MOST_DUE]) <= names
    assert len(printed) < len(content.units)
    assert [unit for unit in content.units if unit.row.name in names] == list(printed), "in the order of the report"
    assert f"{len(printed)} have a section here" in choice_text(printed, units=len(content.units))


def test_a_large_fleet_lists_all_drains_of_units_with_a_finding_and_the_latest_of_others(
    race_content: ReportContent,
) -> None:
    for unit in race_content.units:
        has_finding = unit.row.standing in (FASTER, SLOWER) or unit.row.turned or bool(unit.inspect)
        listed = drains_to_print(unit, units=ALL_UP_TO + 1)
        assert listed == (unit.drains if has_finding else unit.drains[:LATEST_DRAINS])
        assert drains_to_print(unit, units=ALL_UP_TO) == unit.drains
