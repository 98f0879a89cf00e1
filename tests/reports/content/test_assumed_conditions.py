"""What a unit's interval is for, and the multipliers by which two units on one spring and oil may differ."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.assumed_conditions import assumed_conditions
from draincurve.reports.content.service_rows import ServiceRow, service_rows
from draincurve.reports.content.unit_names import UnitNames


@pytest.fixture(scope="module")
def with_state(race_team: PlanResult) -> PlanResult:
    """The invented fleet with a state of each unit, all of them on sand."""
    state = race_team.decided.next_service.select(
        pl.col("unit_id").alias("unit_key"),
        pl.lit("sand").alias("surface"),
        spring_hours_now=pl.lit(12.4),
        part_age_now=pl.lit(None, pl.Float64),
        last_shortfall=pl.lit(0.05),
    )
    return replace(race_team, described=replace(race_team.described, state=state))


def rows_of(result: PlanResult) -> tuple[ServiceRow, ...]:
    return service_rows(result.decided.next_service, UnitNames(frozenset()), as_of=date(2026, 5, 13))


def test_each_unit_with_an_interval_by_a_channel_has_the_multipliers_of_what_it_runs_with(
    with_state: PlanResult,
) -> None:
    rows = rows_of(with_state)
    texts = assumed_conditions(with_state, rows)
    ridden = {
        (channel.channel, item.level): item
        for channel in with_state.judged.channels
        for item in channel.multipliers
        if item.term == "rider"
    }
    named = [row for row in rows if (row.set_by, row.rider) in ridden]
    assert named
    for row in named:
        rider = ridden[row.set_by or "", row.rider or ""]
        conditions, multipliers = texts[row.name].split(" Hours to the limit of ")
        assert conditions.startswith("Its interval is for: surface sand; hours on the spring 12 ")
        assert multipliers.startswith(f"{row.set_by}, beside the fleet's average: ")
        assert f" {row.rider} {rider.multiplier:.2f}x (" in multipliers


def test_an_interval_that_no_channel_sets_and_levels_of_no_fit_have_no_multipliers(with_state: PlanResult) -> None:
    row = rows_of(with_state)[0]
    worn, new = replace(row, set_by="wear"), replace(row, rider="Newcomer", site=None)
    [text] = assumed_conditions(with_state, [worn]).values()
    assert "Hours to the limit" not in text
    [text] = assumed_conditions(with_state, [new]).values()
    assert "Newcomer" not in text


def test_a_unit_that_was_never_drained_and_is_in_no_register_has_no_sentence(with_state: PlanResult) -> None:
    row = replace(rows_of(with_state)[0], name="X99")
    assert assumed_conditions(with_state, [row]) == {}
