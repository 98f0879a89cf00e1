"""The day that a night is for, and warnings where the machine's clock or time zone changed."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from draincurve.schemas.errors import DraincurveError

SMALL_STEP = timedelta(hours=1)
"""A clock set back by less than this was corrected, as time servers do, and not lost."""


class ClockError(DraincurveError):
    """A clock that must be wrong."""


@dataclass(frozen=True, slots=True)
class Moment:
    """When a run began. at : with its offset; zone : names of standard and summer time; day : the local date."""

    at: datetime
    zone: str
    day: date


@dataclass(frozen=True, slots=True)
class NightDay:
    """The day that the answers are for, and warnings about the clock."""

    as_of: date
    warnings: tuple[str, ...] = ()


def present_moment() -> Moment:
    """The present by the machine's clock; its local date is the day."""
    now = datetime.now().astimezone()
    return Moment(now, "/".join(time.tzname), now.date())


def night_day(moment: Moment, last: Moment | None, *, given: date | None) -> NightDay:
    """The day of a night.

    last : of the last good night; given : a day that the user set, which is used as it is. Otherwise it is the local
    date, but never before the day of the last good night: after a change of time zone or a small correction of the
    clock the later day is used, since a later day makes units due earlier. Raises ClockError where the clock went
    further back: every drain since then would be held back as in the future.
    """
    if last is None:
        return NightDay(given or moment.day)
    warnings = []
    back = last.at - moment.at
    if moment.zone != last.zone:
        warnings.append(
            f"The machine's time zone changed from {last.zone} to {moment.zone} since the last report; "
            "days are local."
        )
    if back > timedelta(0):
        warnings.append(
            f"The machine's clock went back: it says {_text(moment.at)}, and the last report was made at "
            f"{_text(last.at)}."
        )
    if given is not None:
        return NightDay(given, tuple(warnings))
    if moment.day >= last.day:
        return NightDay(moment.day, tuple(warnings))
    if back >= SMALL_STEP:
        raise ClockError(
            f"the machine's clock went back: it says {_text(moment.at)}, but the last report was made at "
            f"{_text(last.at)}; set the clock, or say the day with --as-of"
        )
    warnings.append(f"It is {moment.day} here now; the answers stay for {last.day}, the later day.")
    return NightDay(last.day, tuple(warnings))


def _text(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M %z")
