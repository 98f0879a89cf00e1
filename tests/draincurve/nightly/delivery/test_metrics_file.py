"""The metrics file, read back by the format's own reference parser (prometheus_client)."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from prometheus_client.parser import text_string_to_metric_families

from draincurve.nightly.delivery.metrics_file import LAST_GOOD, deliver_metrics, last_good_before, metrics_text
from draincurve.nightly.delivery.night_report import DeliveryOutcome
from draincurve.nightly.delivery.notification import notification_of
from draincurve.schemas.delivery_settings import MetricsSettings

METRICS = MetricsSettings("metrics/draincurve.prom")
FAILED = (DeliveryOutcome("mail", False, 3, "refused"), DeliveryOutcome("webhook", True, 1, "posted"))
COUNTS = {
    "draincurve_rows_read": 225,
    "draincurve_rows_held_back": 5,
    "draincurve_rows_asked_about": 2,
    "draincurve_units_in_service": 16,
    "draincurve_units_due_now": 1,
    "draincurve_units_to_inspect": 2,
    "draincurve_units_faster": 1,
}


def written(night, *, outcomes, context):
    return deliver_metrics(
        METRICS,
        notification_of(night),
        outcomes=outcomes,
        started_at=night.started_at,
        duration_s=night.duration_s,
        context=context,
    )


def text(night, *, last_good):
    notification = notification_of(night)
    return metrics_text(
        notification, (), started_at=night.started_at, duration_s=night.duration_s, last_good=last_good
    )


def parsed(text):
    families = list(text_string_to_metric_families(text))
    assert all(family.type == "gauge" and family.documentation for family in families)
    assert all(len(family.samples) == 1 and not family.samples[0].labels for family in families)
    return {family.name: family.samples[0].value for family in families}


def test_a_good_night(good_night, around, tmp_path):
    outcome = written(good_night, outcomes=FAILED, context=around())
    assert outcome.delivered
    file = tmp_path / "metrics" / "draincurve.prom"
    ended = (good_night.started_at + timedelta(seconds=12.5)).timestamp()
    assert parsed(file.read_text()) == COUNTS | {
        LAST_GOOD: ended,
        "draincurve_last_run_timestamp_seconds": ended,
        "draincurve_last_run_good": 1,
        "draincurve_run_duration_seconds": 12.5,
        "draincurve_delivery_failures": 1,
    }
    assert file.stat().st_mode & 0o777 == 0o644
    assert [path.name for path in file.parent.iterdir()] == ["draincurve.prom"]


def test_after_a_failed_night_the_last_good_one_stays_and_counts_are_not_made_up(good_night, failed_night, around):
    written(good_night, outcomes=(), context=around())
    file = around().within(METRICS.file)
    good = parsed(file.read_text())[LAST_GOOD]
    assert last_good_before(file) == good
    night = replace(failed_night, last_good_at=None, started_at=failed_night.started_at + timedelta(days=1))
    assert written(night, outcomes=(), context=around()).delivered
    found = parsed(file.read_text())
    assert found[LAST_GOOD] == good
    assert found["draincurve_last_run_good"] == 0
    assert found["draincurve_last_run_timestamp_seconds"] > good
    assert not set(COUNTS) & set(found)


def test_the_last_good_night_that_is_passed_in_stands_over_the_file(failed_night):
    assert parsed(text(failed_night, last_good=1.0))[LAST_GOOD] == failed_night.last_good_at.timestamp()


def test_with_no_good_night_ever_there_is_no_time_of_one(failed_night):
    assert LAST_GOOD not in parsed(text(replace(failed_night, last_good_at=None), last_good=None))


def test_an_earlier_file_that_is_damaged_is_no_obstacle(failed_night, around):
    file = around().within(METRICS.file)
    file.parent.mkdir()
    file.write_bytes(b"\xff\x00draincurve_last_good_run_timestamp_seconds NaN\n")
    assert last_good_before(file) is None
    assert written(failed_night, outcomes=(), context=around()).delivered
    assert parsed(file.read_text())["draincurve_last_run_good"] == 0


def test_a_place_that_cannot_be_written_is_an_outcome(good_night, around, tmp_path):
    (tmp_path / "metrics").write_text("a file where a folder is meant")
    outcome = written(good_night, outcomes=(), context=around())
    assert not outcome.delivered
    assert "cannot be written" in outcome.message
