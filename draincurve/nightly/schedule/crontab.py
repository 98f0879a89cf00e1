"""A scheduled night as a line for cron, by the rules of crontab(5)."""

from __future__ import annotations

import shlex

from draincurve.nightly.schedule.night_job import NightJob
from draincurve.schemas.delivery_settings import DAYS, ScheduleSettings


def crontab_line(job: NightJob) -> str:
    """One line: the time, and the command by its full path. A per cent sign would end the command: it is escaped."""
    command = shlex.join(job.command).replace("%", r"\%")
    return f"{_when(job.schedule)} {command}"


def crontab_text(job: NightJob) -> str:
    """The line, below comments on how to use it."""
    notes = [
        f"# runs as {job.user}: crontab -e as that user, then paste the last line",
        "# one night at a time: the program holds its own lock; cron knows no memory limit and no missed nights",
    ]
    if job.variables:
        notes.append(
            f"# {', '.join(job.variables)} must be set: lines NAME=value above this one, or files in the settings"
        )
    return "\n".join([*notes, crontab_line(job)]) + "\n"


def _when(schedule: ScheduleSettings) -> str:
    """Minute, hour, any day, any month, days of the week; cron counts Sunday as 0."""
    hour, _, minute = schedule.at.partition(":")
    chosen = [(number + 1) % 7 for number, day in enumerate(DAYS) if day in schedule.days]
    days = "*" if len(chosen) == len(DAYS) else ",".join(str(number) for number in sorted(chosen))
    return f"{int(minute)} {int(hour)} * * {days}"
