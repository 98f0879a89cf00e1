"""Whether to trust the answer: rows that were not used, questions, fits and warnings, a line each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from draincurve.pipeline.judging import ChannelResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.finding_text import asked_kinds, asked_text, assumed_kinds, assumed_text
from draincurve.reports.content.fleet_counts import FleetCounts
from draincurve.reports.content.sections.channel_sections import DO_NOT_RELY
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.shortest_fill import below_any_rated, extrapolated_text, shortest_rated
from draincurve.schemas.channels import title_of
from draincurve.schemas.columns import columns_in_words

MOST_NAMED = 12
"""Units named in one sentence; the others are counted."""


@dataclass(frozen=True, slots=True)
class TrustLine:
    """One thing to know before acting; warning : it is a reason to distrust the answer.  details : lines below it."""

    subject: str
    text: str
    warning: bool
    link: str | None = None
    details: tuple[str, ...] = ()


def trust_lines(result: PlanResult, rows: Sequence[ServiceRow], counts: FleetCounts) -> tuple[TrustLine, ...]:
    """Rows read, one line for each channel with its warnings, hours, short intervals, then all other warnings."""
    by_channel: dict[str, list[str]] = {title_of(channel.channel): [] for channel in result.judged.channels}
    others = []
    by_questions = result.decided.by_questions if asked_text(result.log) else ()
    for warning in result.warnings:
        subject, _, text = warning.partition(": ")
        if text and subject in by_channel:
            by_channel[subject].append(wording.sentence(text))
        else:
            link = "remarks-asked" if warning in by_questions else None
            others.append(TrustLine("Note", wording.sentence(warning), warning=True, link=link))
    fits = [_fit_line(channel, by_channel[title_of(channel.channel)]) for channel in result.judged.channels]
    return (
        _held_back_line(result),
        *_asked_lines(result),
        *_assumed_lines(result),
        *fits,
        *_hours_lines(counts),
        *_short_intervals(result, rows),
        *others,
    )


def _held_back_line(result: PlanResult) -> TrustLine:
    """How many rows were held back, table by table."""
    counted = [
        (account.table, account.read - account.no_rows, account.held_back - account.no_rows)
        for account in result.log.accounts
    ]
    held = [counts for counts in counted if counts[2]]
    rest = [(table, rows) for table, rows, held_back in counted if rows and not held_back]
    tables = "" if len(rest) == 1 else " and its other tables"
    if not held:
        return TrustLine("Rows", f"All {_rows_text(rest)} of the log{tables} were accepted.", warning=False)
    named = wording.listed(
        [f"{wording.grouped(many)} of {_rows_text([(table, rows)])} of {table}" for table, rows, many in held]
    )
    others = f" All {_rows_text(rest)} of the other tables were accepted." if rest else ""
    text = f"{named} held back and not used.{others} Correct them and run again."
    return TrustLine("Rows", text, warning=True, link="held-back")


def _rows_text(counted: Sequence[tuple[str, int]]) -> str:
    """How many rows; a table of measurements may have several values in a row, each counted for itself."""
    values = sum(rows for table, rows in counted if table == "measurements")
    rows = sum(rows for table, rows in counted) - values
    parts = [wording.counted(rows, "row")] if rows or not values else []
    return wording.listed([*parts, *([wording.counted(values, "measured value")] if values else [])])


def _asked_lines(result: PlanResult) -> list[TrustLine]:
    """How many rows are asked about, and the commonest kinds of questions."""
    text = asked_text(result.log)
    if not text:
        return []
    kinds = tuple(map(columns_in_words, asked_kinds(result.log)))
    return [TrustLine("Asked about", f"{text}:", warning=True, link="remarks-asked", details=kinds)]


def _assumed_lines(result: PlanResult) -> list[TrustLine]:
    """How many cells were read by an assumption, and the commonest kinds."""
    text = assumed_text(result.log)
    if not text:
        return []
    kinds = tuple(map(columns_in_words, assumed_kinds(result.log)))
    return [TrustLine("Assumed", f"{columns_in_words(text)}.", warning=False, link="remarks-note", details=kinds)]


def _fit_line(channel: ChannelResult, warned: list[str]) -> TrustLine:
    """What to know of one channel; a reason that the warnings already give is not repeated."""
    sentences = list(warned)
    if channel.why_not is not None and not sentences:
        sentences = [wording.sentence(channel.why_not)]
    if channel.diagnostics is not None and not channel.diagnostics.trusted:
        sentences = [DO_NOT_RELY, *(sentences or [wording.sentence(channel.diagnostics.message)])]
    text = " ".join(sentences) or "The calculation passed its checks. They say nothing of the oil itself."
    return TrustLine(title_of(channel.channel), text, bool(sentences), link=f"channel-{channel.channel}")


def _hours_lines(counts: FleetCounts) -> list[TrustLine]:
    unknown, estimated = counts.unknown_hours, counts.estimated_hours
    parts = []
    if unknown:
        parts.append(f"Hours on the oil are not known for {wording.counted(unknown, 'unit')}: treat as due.")
    if estimated:
        parts.append(f"Hours are estimated for {wording.counted(estimated, 'unit')}, on the cautious side.")
    return [TrustLine("Hours", " ".join(parts), warning=True)] if parts else []


def _short_intervals(result: PlanResult, rows: Sequence[ServiceRow]) -> list[TrustLine]:
    """Intervals of the oil that are shorter than any fill that was rated: they are extrapolated."""
    shortest = shortest_rated(result)
    below = [row.name for row in rows if below_any_rated(row, shortest)]
    if not below:
        return []
    which = f"The {wording.plural(len(below), 'interval')} of {wording.first_few(below, MOST_NAMED)}"
    verb = wording.plural(len(below), "is", many="are")
    text = f"{which} {verb} {extrapolated_text(shortest)} A drain at those hours would tell."
    return [TrustLine("Short intervals", text, warning=False)]
