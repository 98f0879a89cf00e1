"""Counts and lists of a night whose report shows only some units: counts are of all, lists say what they lack."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest
from empty_pictures import empty_pictures

from draincurve.nightly.delivery.night_report import NightReport
from draincurve.nightly.delivery.webhook_payload import night_counts, payload
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import SMALL_FLEET
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.schemas.next_service_table import FASTER
from tests.reports.invented_report import FleetShape, altered, build_report

SHOWN = 4


@pytest.fixture(scope="module")
def whole() -> PlanResult:
    return build_report(FleetShape())


@pytest.fixture(scope="module")
def all_shown(whole: PlanResult) -> ReportContent:
    with empty_pictures():
        return report_content(whole)


@pytest.fixture(scope="module")
def few_shown(whole: PlanResult) -> ReportContent:
    processing = replace(SMALL_FLEET, shown_units=SHOWN, shown_of_a_kind=0, inspected_units=1)
    with empty_pictures():
        return report_content(altered(whole, processing=processing))


def test_counts_are_of_all_units(whole: PlanResult, all_shown: ReportContent, few_shown: ReportContent) -> None:
    counts = night_counts(few_shown)
    service = whole.decided.next_service
    assert len(few_shown.rows) == SHOWN < service.height
    assert counts == replace(night_counts(all_shown), rows_read=counts.rows_read)
    assert counts.units_in_service == service.height
    assert counts.units_faster == (service["standing"] == FASTER).sum() == 1
    assert counts.units_to_inspect == whole.decided.inspect_now.height == 2


def test_lists_say_how_many_they_leave_out(
    few_shown: ReportContent, all_shown: ReportContent, good_night: NightReport, whole: PlanResult
) -> None:
    told = payload(replace(good_night, content=few_shown))
    all_told = payload(replace(good_night, content=all_shown))
    assert all_told["more"] == {"inspect": 0, "due": 0, "faster": 0, "held_back": 0, "asked": 0}
    assert told["more"]["inspect"] == 1
    for name in ("inspect", "due", "faster"):
        assert len(told[name]) + told["more"][name] == len(all_told[name])
    act_by = pl.min_horizontal("due_on", "due_before")
    until = whole.as_of + timedelta(days=14)
    ahead = whole.decided.next_service.filter(act_by.is_null() | (act_by <= until) | (pl.col("hours_left") <= 0))
    assert len(told["due"]) + told["more"]["due"] == ahead.height


def test_texts_of_the_log_are_shown_with_what_hides_in_them(good_night: NightReport) -> None:
    content = good_night.content
    spoilt = content.held_back[0] | {"value": "F\x1b]0;x\x07\u202e01"}
    told = payload(replace(good_night, content=replace(content, held_back=(spoilt,))))
    assert told["held_back"][0]["value"] == "F\\u001b]0;x\\u0007\\u202e01"
