"""The age of the last good report, in words."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from draincurve.nightly.night_outcome import CurrentReport

NOW = datetime(2026, 6, 20, 3, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("age", "words"),
    [
        (timedelta(minutes=7), "made 7 minutes ago"),
        (timedelta(hours=2), "made 2.0 hours ago"),
        (timedelta(days=3), "made 3 days ago"),
        (timedelta(hours=-1), "made at 2026-06-20 04:30, which the clock says is to come"),
    ],
)
def test_the_age_of_the_last_report_is_in_a_unit_that_fits(age: timedelta, words: str) -> None:
    report = CurrentReport(Path("reports/2026-06-19"), date(2026, 6, 19), NOW - age)
    assert report.age_text(NOW) == f"the last good report stays: it is for 2026-06-19, {words}"
