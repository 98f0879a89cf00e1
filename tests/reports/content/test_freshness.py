"""A silent log is asked about, and what rests on hours estimated since is no list of units to act on."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from datetime import timedelta

import polars as pl
import pytest
from empty_pictures import empty_pictures
from invented_report import AS_OF, altered
from page_reader import PageReader

from draincurve.pipeline.deciding.next_service import with_plausible_hours
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.freshness import freshness
from draincurve.reports.content.report_content import report_content
from draincurve.reports.page.page_writer import page_html

ESTIMATED = 206.4


def silent_for(report: PlanResult, days: int) -> PlanResult:
    """The fleet with its last drain so many days ago, all hours but those of F01 estimated past any fill.

    Its units are drained on four days of each 24, so that there is a drain every 6 days.
    """
    spread = pl.duration(days=6 * (pl.col("unit_id").rank("dense").cast(pl.Int64) % 4))
    drains = report.described.drains.with_columns(pl.col("drained_on") - spread)
    back = timedelta(days=(drains["drained_on"].max() - AS_OF).days + days)
    on_oil = pl.when(pl.col("unit_id") == "F01").then(25.0).otherwise(ESTIMATED)
    table = report.decided.next_service.with_columns(
        on_oil.alias("hours_on_oil"),
        (pl.col("interval_h") - on_oil).alias("hours_left"),
        pl.when(pl.col("unit_id") == "F01")
        .then(pl.lit("logged"))
        .otherwise(pl.lit("estimated"))
        .alias("hours_on_oil_basis"),
        pl.lit("debris").alias("set_by"),
        *(pl.lit(AS_OF).alias(name) for name in ("due_on", "due_on_early", "due_on_late")),
        pl.lit(None, dtype=pl.Date).alias("due_before"),
    )
    past = pl.when(pl.col("unit_id") != "F01").then(37.0).alias("past_plausible_h")
    reasons = report.decided.unit_reasons.with_columns(past)
    return altered(
        report,
        drains=drains.with_columns(pl.col("drained_on") - back),
        next_service=with_plausible_hours(table, reasons),
        unit_reasons=reasons,
    )


def test_a_log_of_ten_days_is_not_asked_about(race_team: PlanResult) -> None:
    found = freshness(silent_for(race_team, 10))
    assert (found.question, found.sites) == ("", ())
    assert found.ages.startswith("Drains up to 3 May (10 days ago)")


@pytest.mark.parametrize(("days", "pictures"), [(107, nullcontext), (400, empty_pictures)])
def test_a_silent_log_is_asked_about_and_units_due_by_estimate_are_counted(
    race_team: PlanResult, days: int, pictures: Callable[[], AbstractContextManager[None]]
) -> None:
    with pictures():
        content = report_content(silent_for(race_team, days))
    question = f"No drain written for {days} days: is the log out of date?"
    assert content.first.headline == f"Inspect 2 units now. {question} 1 more is due now by what is logged."
    assert "15 units would be due; they are not listed" in content.first.outdated_text
    assert "winter break" in content.first.outdated_text
    assert [line.row.name for line in content.first.due] == ["F01"]
    assert {line.name for line in content.work.lines} == {"F01", "F02", "F10"}, (
        "what must be inspected is never hidden"
    )
    assert content.work.notes[0].startswith(f"{question} 13 units that are due by estimated hours")
    page = page_html(content)
    assert page.count(question) >= 2
    said = " ".join(PageReader(page).texts)
    for figure in ("206.4", "206 h", "-19", ">99 %"):
        assert figure not in said
    assert "over 37" in page
