"""Which day a night is for, and what to say when the machine's clock or time zone is not what it was."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from draincurve.schemas.errors import DraincurveError

SMALL_STEP = timedelta(hours=1)
"""A clock that was set back by less was mended (common practice: time servers correct small drifts), not lost."""


class ClockError(DraincurveError):
    """A clock that cannot be right."""


@dataclass(frozen=True, slots=True)
class Moment:
    """When a run began: instant with its offset, the zone's names of standard and summer time, and its day."""

    at: datetime
    zone: str
    day: date


@dataclass(frozen=True, slots=True)
class NightDay:
    """The day that the answers are for, and what to say about the clock, if anything."""

    as_of: date
    said: tuple[str, ...] = ()


def present_moment() -> Moment:
    """What the machine's clock says; its local date is the day."""
    at = datetime.now().astimezone()
    return Moment(at, "/".join(time.tzname), at.date())


def night_day(moment: Moment, last: Moment | None, given: date | None) -> NightDay:
    """The day of a night, after the last good one.

    A given day stands. Else it is the local date, but never a day before that of the last good night: where the time
    zone changed or the clock was mended by a little, the later day stands, since a later day makes units due earlier.
    Raises ClockError where the clock is further back than that, since every drain of the days between would be held
    back as not yet done, and the report would be worse than the one that is there.
    """
    if last is None:
        return NightDay(given or moment.day)
    said = []
    back = last.at - moment.at
    if moment.zone != last.zone:
        said.append(
            f"The machine's time zone changed from {last.zone} to {moment.zone} since the last report; "
            "days are local."
        )
    if back > timedelta(0):
        said.append(
            f"The machine's clock went back: it says {_text(moment.at)}, and the last report was made at "
            f"{_text(last.at)}."
        )
    if given is not None:
        return NightDay(given, tuple(said))
    if moment.day >= last.day:
        return NightDay(moment.day, tuple(said))
    if back >= SMALL_STEP:
        raise ClockError(
            f"the machine's clock went back: it says {_text(moment.at)}, but the last report was made at "
            f"{_text(last.at)}; set the clock, or say the day with --as-of"
        )
    said.append(f"It is {moment.day} here now; the answers stay for {last.day}, the later day.")
    return NightDay(last.day, tuple(said))


def _text(at: datetime) -> str:
    return at.strftime("%Y-%m-%d %H:%M %z")
