"""Fixtures over an invented fleet's result."""

from __future__ import annotations

import pytest
from invented_fleet import FleetShape, build_plan_result

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.page.page_writer import render_page


@pytest.fixture(scope="session")
def race_team() -> PlanResult:
    return build_plan_result(FleetShape())


@pytest.fixture(scope="session")
def hostile_team() -> PlanResult:
    return build_plan_result(FleetShape(hostile=True))


@pytest.fixture(scope="session")
def quiet_team() -> PlanResult:
    return build_plan_result(FleetShape(quiet=True))


@pytest.fixture(scope="session")
def race_content(race_team: PlanResult) -> ReportContent:
    return report_content(race_team)


@pytest.fixture(scope="session")
def hostile_content(hostile_team: PlanResult) -> ReportContent:
    return report_content(hostile_team)


@pytest.fixture(scope="session")
def race_page(race_team: PlanResult) -> str:
    return render_page(race_team)


@pytest.fixture(scope="session")
def hostile_page(hostile_team: PlanResult) -> str:
    return render_page(hostile_team)
