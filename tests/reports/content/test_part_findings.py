"""What parts need, in words that say what to do."""

from __future__ import annotations

from datetime import timedelta

import polars as pl
import pytest
from invented_report import AS_OF, altered

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.part_findings import in_short, part_findings

PART = {
    "unit_id": "F01", "site": None, "part": "spring", "fitted_on": AS_OF - timedelta(300), "hours_now": 399.0,
    "set_by": "maker's hours", "due_on": AS_OF, "visit_with": None, "why": "said",
}  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({}, "spring: replace now"),
        ({"set_by": "maker's days"}, "spring: replace now"),
        ({"set_by": "wear"}, "spring: inspect and measure now"),
        ({"set_by": "maker's days", "fitted_on": None}, "spring: find out its age or replace it now"),
        ({"hours_now": None}, "spring: find out its age or replace it now"),
        (
            {"due_on": AS_OF + timedelta(9), "visit_with": "seals, service"},
            "spring: replace at this visit, due 22 May 2026",
        ),
        ({"due_on": AS_OF + timedelta(9), "visit_with": "seals"}, ""),
    ],
)
def test_a_part_at_the_end_of_its_life_says_what_to_do(quiet_team: PlanResult, cells: dict, said: str) -> None:
    types = {"site": pl.String, "visit_with": pl.String, "fitted_on": pl.Date, "hours_now": pl.Float64}
    parts = pl.DataFrame([PART | cells], schema_overrides=types)
    found = part_findings(altered(quiet_team, parts=parts))
    assert in_short([finding for finding in found.get("F01", ()) if finding.part == "spring"]) == said
