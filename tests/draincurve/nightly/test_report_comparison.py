"""What changed between two reports: each kind, its opposite, and what must not count as a change."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from facts_at_hand import CALM, DAY, facts, held, unit
from hypothesis import given
from hypothesis import strategies as st

from draincurve.nightly.report_comparison import changes_between
from draincurve.reports.content.report_changes import (
    FewerDrains,
    IntervalChange,
    SignsChange,
    StandingChange,
    UnitName,
)
from draincurve.schemas.next_service_table import STANDINGS

NAME = CALM.name


def test_the_same_report_changes_nothing() -> None:
    changes = changes_between(facts(), facts())
    assert not any(changes.counts.values())
    assert set(changes.counts.values()) == {0}


@pytest.mark.parametrize(
    "due",
    [{"hours_left": 0.0}, {"hours_left": -2.5}, {"due_on": DAY}, {"due_before": DAY}, {"due_on": DAY - timedelta(3)}],
)
def test_a_unit_becomes_due_and_is_free_again(due: dict) -> None:
    there = changes_between(facts(), facts(unit(**due)))
    assert [item.unit for item in there.newly_due] == [NAME]
    assert there.no_longer_due == ()
    back = changes_between(facts(unit(**due)), facts())
    assert [item.unit for item in back.no_longer_due] == [NAME]
    assert back.newly_due == ()


def test_a_unit_that_was_due_and_still_is_is_no_news() -> None:
    assert changes_between(facts(unit(hours_left=-1.0)), facts(unit(hours_left=-3.0))).newly_due == ()


def test_a_date_comes_nearer_until_the_unit_is_due() -> None:
    before, now = (
        facts(unit(due_on=DAY + timedelta(1))),
        facts(unit(due_on=DAY + timedelta(1)), as_of=DAY + timedelta(1)),
    )
    assert len(changes_between(before, now).newly_due) == 1


def test_a_new_unit_that_is_due_or_faster_is_said_as_such() -> None:
    now = facts(CALM, unit("F02", hours_left=-1.0, standing="faster than the fleet", turned=True))
    changes = changes_between(facts(), now)
    other = UnitName("F02", "North")
    assert changes.new_units == (other,)
    assert [item.unit for item in changes.newly_due] == [other]
    assert changes.newly_faster == (StandingChange(other, "", "faster than the fleet"),)
    assert changes.newly_turned == (other,)


@pytest.mark.parametrize("before", STANDINGS)
@pytest.mark.parametrize("now", STANDINGS)
def test_standing(before: str, now: str) -> None:
    changes = changes_between(facts(unit(standing=before)), facts(unit(standing=now)))
    called = ("faster than the fleet", "slower than the fleet")
    assert bool(changes.newly_faster) == (now == called[0] != before)
    assert bool(changes.newly_slower) == (now == called[1] != before)
    assert bool(changes.no_longer_called) == (before in called and now not in called)


@pytest.mark.parametrize(("now", "counts"), [(12.0, 0), (12.5, 0), (11.5, 0), (13.0, 1), (11.0, 1), (None, 1)])
def test_intervals_move_by_more_than_one_step_of_rounding(now: float | None, counts: int) -> None:
    changes = changes_between(facts(), facts(unit(interval_h=now)))
    found = changes.intervals
    assert len(found) + changes.intervals_by_a_step == (now != facts().units[0].interval_h)
    assert len(found) == counts
    if counts:
        assert found[0] == IntervalChange(NAME, 12.0, now, "colour", "colour")
        assert found[0].difference_h == (None if now is None else now - 12.0)


def test_another_step_counts_with_the_larger_of_the_two() -> None:
    now = facts(unit(interval_h=14.0), settings={"step_h": 2.0})
    changes = changes_between(facts(), now)
    assert changes.intervals == ()
    assert changes.settings_changed == ("step_h",)


def test_units_come_and_go() -> None:
    changes = changes_between(facts(unit("A"), unit("B")), facts(unit("B"), unit("C")))
    assert changes.new_units == (UnitName("C", "North"),)
    assert changes.gone_units == (UnitName("A", "North"),)


def test_a_unit_that_moved_to_another_site_is_the_same_unit() -> None:
    changes = changes_between(facts(), facts(unit(site="South")))
    assert not any(changes.counts.values())


def test_namesakes_are_told_apart_by_site() -> None:
    before = facts(unit(site="North"), unit(site="South", hours_left=-1.0))
    now = facts(unit(site="North", hours_left=-1.0), unit(site="South", hours_left=-1.0))
    assert [item.unit.site for item in changes_between(before, now).newly_due] == ["North"]


def test_a_log_that_shrank_is_said_with_how_much() -> None:
    changes = changes_between(facts(tables={"drains": 40, "usage": 9}), facts(tables={"drains": 39}))
    one, gone = changes.shrunk
    assert (one.table, one.read_before, one.read_now) == ("drains", 40, 39)
    assert "1 row fewer than before (40 then, 39 now)" in one.text
    assert "the table is gone; it had 9 rows" in gone.text
    assert changes_between(facts(tables={"drains": 39}), facts(tables={"drains": 40, "usage": 1})).shrunk == ()


def test_a_unit_with_fewer_drains_is_named_although_the_log_grew() -> None:
    changes = changes_between(facts(), facts(unit(drains=5), tables={"drains": 44}))
    assert changes.fewer_drains == (FewerDrains(NAME, 6, 5),)
    assert changes.shrunk == ()


def test_a_report_for_an_earlier_day_blames_no_log_for_fewer_drains() -> None:
    assert changes_between(facts(), facts(unit(drains=5), as_of=DAY - timedelta(9))).fewer_drains == ()


def test_signs() -> None:
    before = facts(signs={NAME: "leak"})
    assert changes_between(before, facts(signs={NAME: "leak"})).newly_inspect == ()
    more = changes_between(before, facts(signs={NAME: "milky, leak"}))
    assert more.newly_inspect == (SignsChange(NAME, "milky, leak"),)
    moved = changes_between(before, facts(signs={UnitName("F01", "South"): "leak"}))
    assert moved.newly_inspect == ()
    assert len(changes_between(facts(), before).newly_inspect) == 1


def test_signs_that_no_longer_count_are_named() -> None:
    before = facts(signs={NAME: "milky, leak"})
    assert changes_between(before, facts(signs={NAME: "milky, leak"})).no_longer_inspect == ()
    assert changes_between(before, facts()).no_longer_inspect == (SignsChange(NAME, "milky, leak"),)
    assert changes_between(before, facts(signs={UnitName("F01", "South"): "leak, milky"})).no_longer_inspect == ()


def test_rows_held_back_are_told_by_content_not_by_line() -> None:
    before = facts(held_back=(held(7, {"unit_id": "F01", "note": None}),))
    moved = facts(held_back=(held(3, {"unit_id": "F02"}), held(8, {"unit_id": "F01"}, "new-name.csv")))
    changes = changes_between(before, moved)
    assert [row.line for row in changes.newly_held_back] == [3]
    assert changes.no_longer_held_back == 0
    assert changes_between(moved, before).no_longer_held_back == 1


def test_a_second_copy_of_a_row_held_back_is_new() -> None:
    row = {"unit_id": "F01"}
    changes = changes_between(facts(held_back=(held(7, row),)), facts(held_back=(held(7, row), held(8, row))))
    assert [found.line for found in changes.newly_held_back] == [8]


def test_settings_and_versions_that_differ_are_named() -> None:
    before = facts(settings={"accepted_risk": 0.1, "caps.max_interval_h": None})
    now = facts(
        settings={"accepted_risk": 0.2, "caps.max_interval_h": None}, versions={"python": "3.12", "numpy": "2"}
    )
    changes = changes_between(before, now)
    assert changes.settings_changed == ("accepted_risk",)
    assert changes.versions_changed == ("numpy", "python")


UNITS = st.builds(
    unit,
    st.sampled_from(["A", "B", "C", "../D"]),
    site=st.sampled_from([None, "North", "South"]),
    drains=st.integers(0, 9),
    interval_h=st.none() | st.sampled_from([1.0, 1.5, 5.0]),
    hours_left=st.none() | st.floats(-5, 5),
    due_on=st.none() | st.dates(date(2026, 6, 1), date(2026, 7, 30)),
    standing=st.sampled_from(STANDINGS),
    turned=st.none() | st.booleans(),
)
FLEETS = st.lists(UNITS, min_size=1, max_size=6, unique_by=lambda one: one.name).map(lambda units: facts(*units))


@given(FLEETS, FLEETS)
def test_there_and_back_mirror_each_other(one, other) -> None:
    there, back = changes_between(one, other), changes_between(other, one)
    assert there.new_units == back.gone_units
    assert there.gone_units == back.new_units
    assert len(there.new_units) - len(there.gone_units) == len(other.units) - len(one.units)
    assert {item.unit.unit_id for item in there.intervals} == {item.unit.unit_id for item in back.intervals}
    assert not any(changes_between(one, one).counts.values())
