"""Which day a night is for: clocks that went back, time zones that changed, days that were given."""

from __future__ import annotations

import time
from datetime import date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.nightly.night_clock import ClockError, Moment, night_day, present_moment

CET = timezone(timedelta(hours=1))
PST = timezone(timedelta(hours=-8))


def moment(day: int, hour: int, zone: timezone = CET, name: str = "CET/CEST") -> Moment:
    at = datetime(2026, 6, day, hour, tzinfo=zone)
    return Moment(at, name, at.date())


def test_the_first_night_and_an_ordinary_one_take_the_local_date() -> None:
    assert night_day(moment(20, 3), None, given=None) == night_day(moment(20, 3), moment(19, 3), given=None)
    assert night_day(moment(20, 3), moment(19, 3), given=None).as_of == date(2026, 6, 20)
    assert night_day(moment(20, 3), moment(19, 3), given=None).warnings == ()


def test_a_clock_that_lost_a_day_stops_the_night_in_one_line() -> None:
    with pytest.raises(ClockError, match=r"went back: it says 2026-06-18 03:00 .* set the clock, or .*--as-of"):
        night_day(moment(18, 3), moment(19, 3), given=None)


def test_a_given_day_stands_whatever_the_clock_says() -> None:
    found = night_day(moment(18, 3), moment(19, 3), given=date(2026, 6, 20))
    assert found.as_of == date(2026, 6, 20)
    assert "went back" in found.warnings[0]


def test_a_small_step_back_over_midnight_keeps_the_later_day_and_says_so() -> None:
    last = Moment(datetime(2026, 6, 20, 0, 10, tzinfo=CET), "CET/CEST", date(2026, 6, 20))
    found = night_day(
        Moment(datetime(2026, 6, 19, 23, 50, tzinfo=CET), "CET/CEST", date(2026, 6, 19)), last, given=None
    )
    assert found.as_of == date(2026, 6, 20)
    assert len(found.warnings) == 2


def test_a_step_back_within_the_day_is_said_and_no_more() -> None:
    found = night_day(moment(20, 2), moment(20, 4), given=None)
    assert found.as_of == date(2026, 6, 20)
    assert "clock went back" in found.warnings[0]


def test_a_zone_further_west_keeps_the_later_day() -> None:
    last = moment(20, 4)
    now = Moment(last.at.astimezone(PST) + timedelta(minutes=30), "PST/PDT", date(2026, 6, 19))
    found = night_day(now, last, given=None)
    assert found.as_of == date(2026, 6, 20)
    assert "time zone changed from CET/CEST to PST/PDT" in found.warnings[0]
    assert "the later day" in found.warnings[1]


def test_summer_time_is_no_change_of_zone() -> None:
    summer = moment(20, 3, timezone(timedelta(hours=2)))
    assert night_day(summer, moment(19, 3), given=None).warnings == ()


@given(st.datetimes(), st.datetimes(), st.sampled_from([CET, PST]), st.sampled_from([CET, PST]))
def test_no_night_without_a_given_day_is_for_a_day_before_the_last(then, now, one, other) -> None:
    last = Moment(then.replace(tzinfo=one), str(one), then.date())
    try:
        found = night_day(Moment(now.replace(tzinfo=other), str(other), now.date()), last, given=None)
    except (ClockError, OverflowError):
        return
    assert found.as_of >= last.day


def test_this_moment_knows_its_zone(monkeypatch) -> None:
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        here = present_moment()
        assert here.zone == "CET/CEST"
        assert here.at.utcoffset() in (timedelta(hours=1), timedelta(hours=2))
    finally:
        monkeypatch.undo()
        time.tzset()
