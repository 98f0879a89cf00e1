"""What a unit's section adds to its counts: its latest drain, and why it is not called faster."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from invented_report import AS_OF

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.ratio_text import call_text
from draincurve.reports.content.sections.unit_sections import latest_drain_text
from draincurve.reports.content.service_rows import ServiceRow, service_rows
from draincurve.reports.content.unit_names import UnitNames
from draincurve.schemas.next_service_table import FASTER, WITH_FLEET
from draincurve.schemas.settings import StandingRule


@pytest.fixture
def row(race_team: PlanResult) -> ServiceRow:
    rows = service_rows(race_team.decided.next_service, UnitNames(frozenset()), as_of=AS_OF)
    return replace(
        rows[0], set_by="colour", standing=WITH_FLEET, p_faster=0.86, hours_ratio_low=0.38, hours_ratio_high=0.9
    )


def drain(colour: tuple[int, int] | None, debris: tuple[int, int] | None) -> dict[str, Any]:
    low, high = zip(colour or (None, None), debris or (None, None), strict=True)
    return dict(zip(("colour_low", "debris_low", "colour_high", "debris_high"), (*low, *high), strict=True))


def test_a_latest_drain_past_another_limit_is_explained(race_team: PlanResult, row: ServiceRow) -> None:
    def words(colour: tuple[int, int] | None, debris: tuple[int, int] | None, **changed: str) -> str:
        before, latest = drain((5, 5), (1, 1)), drain(colour, debris)
        return latest_drain_text(replace(row, **changed), [before, latest], race_team.judged.channels)

    assert words((3, 3), (5, 5)) == (
        "The latest drain was past the limit of debris, not of colour: "
        "the interval follows from all drains, not from the latest alone."
    )
    for other in (words((4, 4), (5, 5)), words((3, 4), (5, 5)), words(None, (5, 5)), words((3, 3), (3, 4))):
        assert other == ""
    assert words((3, 3), (5, 5), set_by="debris") == words((3, 3), (5, 5), set_by="wear") == ""
    assert latest_drain_text(row, [], race_team.judged.channels) == ""


def test_a_unit_that_may_be_faster_has_its_chance_beside_the_cut_off(row: ServiceRow) -> None:
    assert call_text(row, rule=StandingRule()) == (
        "Chance that it lasts only four fifths as long or less: 86 %. With it, more than 10 % of the units called "
        "faster would be expected to be called so wrongly."
    )
    by_chance = call_text(row, rule=StandingRule(probability=0.9))
    assert by_chance.endswith("86 %. It is called faster from 90 % on.")
    called = call_text(replace(row, standing=FASTER), rule=StandingRule())
    assert called.endswith("86 %. Of the units called faster, at most 10 % are expected to be called so wrongly.")
    assert call_text(replace(row, p_faster=None), rule=StandingRule()) == ""
    assert call_text(replace(row, hours_ratio_high=1.2), rule=StandingRule()) == ""
