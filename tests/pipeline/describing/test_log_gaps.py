"""A log without new drains is asked about by its own usual gaps."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.log_gaps import FALSE_QUESTION, longest_usual_gap, unusual_gaps

LAST = date(2026, 6, 15)


def log(*ago: int, site: str | None = None) -> pl.DataFrame:
    days = [LAST - timedelta(days=one) for one in ago]
    return pl.DataFrame(
        {"site": [site] * len(ago), "drained_on": days}, schema={"site": pl.String, "drained_on": pl.Date}
    )


def asked(drains: pl.DataFrame, days: int) -> bool:
    return bool(unusual_gaps(drains, LAST + timedelta(days=days)))


DAILY, FORTNIGHTLY = log(*range(0, 200)), log(*range(0, 360, 14))


@pytest.mark.parametrize(
    ("drains", "days", "unusual"),
    [
        (DAILY, 3, False), (DAILY, 10, True), (DAILY, 107, True), (DAILY, 400, True),
        (FORTNIGHTLY, 10, False), (FORTNIGHTLY, 60, False), (FORTNIGHTLY, 107, True), (FORTNIGHTLY, 400, True),
        (log(0, 100), 107, False), (log(0), 400, False), (log(), 400, False),
    ],
)  # fmt: skip
def test_the_same_days_are_unusual_in_a_busy_log_and_usual_in_a_quiet_one(drains, days, unusual) -> None:
    assert asked(drains, days) is unusual


def test_a_log_that_is_up_to_date_is_asked_about_at_one_gap_of_a_hundred() -> None:
    """Gaps of a Poisson process, predicted from so few as 3: 20,000 of each number."""
    generator = np.random.default_rng(3)
    for gaps in (3, 20):
        before = generator.exponential(9.0, (20_000, gaps)).mean(axis=1)
        limits = np.array([longest_usual_gap(mean, gaps) for mean in before])
        share = float(np.mean(generator.exponential(9.0, 20_000) > limits))
        assert share == pytest.approx(FALSE_QUESTION, abs=4 * np.sqrt(FALSE_QUESTION / 20_000))


def test_only_the_year_before_the_last_drain_and_only_days_up_to_the_report_count() -> None:
    old = log(*range(0, 100), *range(900, 4000, 300))
    assert asked(old, 20), "ten quiet years long ago do not excuse a busy log"
    later = pl.concat([DAILY, log(-30)])
    assert asked(later, 20), "a drain after the day of the report is not known yet"


def test_a_site_that_writes_no_more_is_named_while_others_write() -> None:
    drains = pl.concat([log(*range(0, 200), site="North"), log(*range(90, 200), site="South"), log(5, site=None)])
    (gap,) = unusual_gaps(drains, LAST + timedelta(days=1))
    assert (gap.site, gap.last_on, gap.days) == ("South", LAST - timedelta(days=90), 91)
    assert [gap.site for gap in unusual_gaps(drains, LAST + timedelta(days=30))] == [None]
