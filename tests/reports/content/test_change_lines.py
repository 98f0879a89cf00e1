"""What changed since an earlier report, as the first screen says it."""

from __future__ import annotations

import dataclasses
from datetime import date

import pytest

from draincurve.reports.content.change_lines import MOST_NAMED, change_list
from draincurve.reports.content.report_changes import (
    DueChange,
    IntervalChange,
    ReportChanges,
    ShrunkTable,
    StandingChange,
    UnitName,
)
from draincurve.reports.content.unit_names import UnitNames

AS_OF = date(2026, 6, 20)
QUIET = ReportChanges(since=date(2026, 6, 13), as_of=AS_OF)


def lines(changes: ReportChanges, in_service: tuple[str, ...] = ("F01", "F02"), shared: tuple[str, ...] = ()):
    found = change_list(changes, UnitNames(frozenset(shared)), in_service=frozenset(in_service), as_of=AS_OF)
    assert found is not None
    return {line.label: line for line in found.lines}


def test_without_an_earlier_report_there_are_no_lines() -> None:
    assert change_list(None, UnitNames(frozenset()), in_service=frozenset(), as_of=AS_OF) is None


def test_where_nothing_changed_the_list_is_empty_and_names_the_day() -> None:
    found = change_list(QUIET, UnitNames(frozenset()), in_service=frozenset(), as_of=AS_OF)
    assert found is not None
    assert found.lines == ()
    assert found.since == "Sat 13 Jun"
    same_day = dataclasses.replace(QUIET, since=AS_OF)
    again = change_list(same_day, UnitNames(frozenset()), in_service=frozenset(), as_of=AS_OF)
    assert again is not None
    assert again.since == "Sat 20 Jun, made earlier"


def test_missing_rows_come_first_as_warnings() -> None:
    changes = dataclasses.replace(
        QUIET,
        shrunk=(ShrunkTable("drains", "log.csv", 190, 185),),
        newly_due=(DueChange(UnitName("F01", None), None, AS_OF, -1.0),),
    )
    found = list(lines(changes).values())
    assert [line.label for line in found] == ["Rows missing", "Due, new"]
    assert found[0].warning
    assert "5 rows fewer" in found[0].text
    assert not found[1].warning


@pytest.mark.parametrize(
    ("before", "now", "label"),
    [
        (10.0, 8.5, "Interval shorter"),
        (8.5, 10.0, "Interval longer"),
        (10.0, None, "Interval shorter"),
        (None, 9.0, "Interval longer"),
    ],
)
def test_an_interval_is_on_the_side_it_moved_to(before: float | None, now: float | None, label: str) -> None:
    change = IntervalChange(UnitName("F01", None), before, now, "colour", "debris")
    found = lines(dataclasses.replace(QUIET, intervals=(change,)))
    assert list(found) == [label]
    assert (
        found[label].units[0].detail
        == f"{'none' if before is None else f'{before:g}'} to {'none' if now is None else f'{now:g}'} h"
    )


def test_the_largest_change_of_an_interval_comes_first_and_the_rest_is_counted() -> None:
    changes = tuple(
        IntervalChange(UnitName(f"F{n:02d}", None), 20.0, 20.0 - n, "colour", "colour") for n in range(1, 13)
    )
    line = lines(dataclasses.replace(QUIET, intervals=changes))["Interval shorter"]
    assert line.units[0].name == "F12"
    assert (len(line.units), line.more) == (MOST_NAMED, 12 - MOST_NAMED)


def test_units_are_linked_only_where_they_have_a_section_and_named_with_their_site_where_shared() -> None:
    changes = dataclasses.replace(
        QUIET,
        newly_faster=(StandingChange(UnitName("F01", "A"), "with the fleet", "faster than the fleet"),),
        gone_units=(UnitName("F09", None),),
    )
    found = lines(changes, in_service=("F01 @ A",), shared=("F01",))
    faster, gone = found["Faster, new"].units[0], found["Gone units"].units[0]
    assert (faster.name, faster.detail) == ("F01 @ A", "was with the fleet")
    assert faster.anchor is not None
    assert gone.anchor is None
