"""Dates whose day and month a spreadsheet has swapped are seen by the rows around them."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from draincurve.pipeline.reading.validating.swapped_days import swapped_days

DAYS = [date(2025, 1, 3) + timedelta(days=4 * at) for at in range(120)]


def swapped(day: date) -> date:
    return day.replace(month=day.day, day=day.month) if day.day <= 12 else day


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("every", [1, 3])
def test_dates_with_a_day_up_to_12_swapped_by_all_or_by_one_of_three_people(every: int, newest_first: bool) -> None:
    right = DAYS[::-1] if newest_first else DAYS
    typed = [swapped(day) if at % every == 0 else day for at, day in enumerate(right)]
    found = swapped_days([typed])[0]
    wrong = {at: right[at] for at, day in enumerate(typed) if day != right[at]}
    assert found.items() <= wrong.items()
    assert len(found) >= 0.9 * len(wrong)


def test_dates_in_order_within_each_unit() -> None:
    parts = [[swapped(day) for day in DAYS[unit::15]] for unit in range(15)]
    found = swapped_days(parts)
    assert sum(map(len, found)) > 20
    assert all(day == DAYS[unit::15][at] for unit, of_unit in enumerate(found) for at, day in of_unit.items())


def test_one_date_far_too_late_is_enough_and_one_too_early_may_be_added_late() -> None:
    at = DAYS.index(date(2025, 3, 12))
    late, early = DAYS.copy(), DAYS.copy()
    late[at] = date(2025, 12, 3)
    assert swapped_days([late])[0] == {at: date(2025, 3, 12)}
    at = DAYS.index(date(2025, 5, 3))
    early[at] = date(2025, 3, 5)
    assert swapped_days([early])[0] == {}


def test_files_in_no_order_and_rows_added_late_show_nothing() -> None:
    rng = np.random.default_rng(4)
    found = 0
    for _ in range(60):
        shuffled = list(rng.permutation(np.array(DAYS[:40])))
        added_late = [day for day in DAYS if day != DAYS[30]]
        added_late.insert(30 + int(rng.integers(1, 6)), DAYS[30])
        found += sum(map(len, swapped_days([shuffled]) + swapped_days([added_late])))
    assert found == 0


def test_dates_on_one_day_of_each_month_are_not_swapped() -> None:
    days = [date(2026, month, day) for day in (3, 4, 5) for month in range(1, 7)]
    assert swapped_days([days]) == [{}]
