"""How new the entries of each source are, and whether the log is silent for longer than its usual gaps explain."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.describing import Silence, silences
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording


@dataclass(frozen=True, slots=True)
class Freshness:
    """How new a log is, in words.

    question : about a whole log that is silent, empty for one that is not.  rhythm : what it rests on.
    ages : the newest entry of each source.  sites : questions about single silent sites.
    """

    question: str
    rhythm: str
    ages: str
    sites: tuple[str, ...]

    @property
    def silent(self) -> bool:
        """Whether the whole log is silent, so that hours estimated since are no ground to act on."""
        return bool(self.question)


def freshness(result: PlanResult) -> Freshness:
    """Of a whole result, or of one site's; not of the units of a large fleet that are shown."""
    silent_sites, as_of = silences(result.described.drains, result.as_of), result.as_of
    whole = next((silence for silence in silent_sites if silence.site is None), None)
    return Freshness(
        question="" if whole is None else f"{_silent(whole)}: is the log out of date?",
        rhythm="" if whole is None else _rhythm(whole, as_of),
        ages=_ages(result),
        sites=tuple(
            f"{_silent(silence)} at {silence.site}: is its log out of date?"
            for silence in silent_sites
            if silence.site is not None
        ),
    )


def _silent(silence: Silence) -> str:
    return f"No drain written for {wording.counted(silence.days, 'day')}"


def _rhythm(silence: Silence, as_of: date) -> str:
    usual = max(1, round(silence.usual_days))
    every = "nearly every day" if usual == 1 else f"every {usual} days on average"
    return (
        f"The last one is of {wording.weekday(silence.last_on, as_of)}; until then there was one {every}. Drains "
        "made since may be missing, or nothing was ridden, as in a winter break."
    )


def _ages(result: PlanResult) -> str:
    """The newest entry of each source that came in."""
    described, measured = result.described, result.log.accepted.get("measurements")
    sources = (
        ("drains", described.drains, "drained_on"),
        ("usage", described.usage, "date"),
        ("bookings", described.bookings, "date"),
        ("measurements", measured, "measured_on"),
    )
    parts = []
    for name, table, column in sources:
        newest = None if table is None else _newest(table, column)
        if newest is not None:
            away = wording.days_away(newest, result.as_of)
            parts.append(f"{name} up to {wording.day(newest, result.as_of)} ({away})")
    return wording.sentence(wording.listed(parts))


def _newest(table: pl.DataFrame, column: str) -> date | None:
    newest = table[column].max()
    return newest if isinstance(newest, date) else None
