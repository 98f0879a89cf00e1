"""How new the entries of each source are, and whether the last drain is longer ago than the usual gaps explain."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.describing import UnusualGap, unusual_gaps
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording


@dataclass(frozen=True, slots=True)
class Freshness:
    """How new a log is, in words.

    question : whether the whole log is out of date, empty where it is not asked.  explanation : the reason to ask.
    ages : the newest entry of each source.  sites : the same question about single sites.
    """

    question: str
    explanation: str
    ages: str
    sites: tuple[str, ...]

    @property
    def outdated(self) -> bool:
        """Whether the whole log may be out of date, so that hours estimated since are no ground to act on."""
        return bool(self.question)


def freshness(result: PlanResult) -> Freshness:
    """Of a whole result, or of one site's; not of the units of a large fleet that are shown."""
    gaps, as_of = unusual_gaps(result.described.drains, result.as_of), result.as_of
    whole = next((gap for gap in gaps if gap.site is None), None)
    return Freshness(
        question="" if whole is None else f"{_gap_text(whole)}: is the log out of date?",
        explanation="" if whole is None else _explanation(whole, as_of),
        ages=_ages(result),
        sites=tuple(
            f"{_gap_text(gap)} at {gap.site}: is its log out of date?" for gap in gaps if gap.site is not None
        ),
    )


def _gap_text(gap: UnusualGap) -> str:
    return f"No drain written for {wording.counted(gap.days, 'day')}"


def _explanation(gap: UnusualGap, as_of: date) -> str:
    usual = max(1, round(gap.usual_days))
    every = "nearly every day" if usual == 1 else f"every {usual} days on average"
    return (
        f"The last one is of {wording.weekday(gap.last_on, as_of)}; until then there was one {every}. Drains "
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
