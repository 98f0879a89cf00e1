"""Fixtures over an invented fleet's result."""

from __future__ import annotations

import pytest
from invented_report import FleetShape, build_changes, build_report

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.page.page_writer import page_html


@pytest.fixture(scope="session")
def race_team() -> PlanResult:
    return build_report(FleetShape())


@pytest.fixture(scope="session")
def hostile_team() -> PlanResult:
    return build_report(FleetShape(hostile=True))


@pytest.fixture(scope="session")
def quiet_team() -> PlanResult:
    return build_report(FleetShape(quiet=True))


@pytest.fixture(scope="session")
def few_units() -> PlanResult:
    """Few pictures to draw, for tests that need them drawn."""
    return build_report(FleetShape(units=4, drains=40))


@pytest.fixture(scope="session")
def track_school() -> PlanResult:
    return build_report(FleetShape(units=120, drains=1500, sites=3))


@pytest.fixture(scope="session")
def track_school_content(track_school: PlanResult) -> ReportContent:
    return report_content(track_school)


@pytest.fixture(scope="session")
def race_content(race_team: PlanResult) -> ReportContent:
    return report_content(race_team, changes=build_changes(FleetShape()))


@pytest.fixture(scope="session")
def hostile_content(hostile_team: PlanResult) -> ReportContent:
    return report_content(hostile_team, changes=build_changes(FleetShape(hostile=True)))


@pytest.fixture(scope="session")
def race_page(race_content: ReportContent) -> str:
    return page_html(race_content)


@pytest.fixture(scope="session")
def hostile_page(hostile_content: ReportContent) -> str:
    return page_html(hostile_content)
