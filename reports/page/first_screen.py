"""The answer: what to inspect, what is due, what degrades faster, and whether to trust it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from pipeline.plan_result import PlanResult
from reports.page import words
from reports.page.drain_evidence import DrainEvidence
from reports.page.service_rows import FASTER, SLOWER, ServiceRow

SOON_DAYS = 7
AHEAD_DAYS = 14
FEWEST_SHOWN = 3
MOST_SHOWN = 8


@dataclass(frozen=True, slots=True)
class DueLine:
    """One unit of the list of what is due next."""

    row: ServiceRow
    when: str
    away: str
    left: str
    late: bool


@dataclass(frozen=True, slots=True)
class InspectLine:
    """One unit with a sign that means: inspect now."""

    unit_id: str
    anchor: str
    in_service: bool
    signs: str
    seen_on: str


@dataclass(frozen=True, slots=True)
class StandingLine:
    """One unit called faster or slower than the fleet; `evidence` counts drains, `why` is the pipeline's sentence."""

    row: ServiceRow
    evidence: str
    why: str


@dataclass(frozen=True, slots=True)
class TrustLine:
    """One thing to know before acting; `doubt` is true where it speaks against trusting the answer."""

    subject: str
    text: str
    doubt: bool
    link: str | None = None


@dataclass(frozen=True, slots=True)
class FirstScreen:
    """Everything of the first screen, in words."""

    headline: str
    inspect: tuple[InspectLine, ...]
    due: tuple[DueLine, ...]
    due_more: int
    faster: tuple[StandingLine, ...]
    faster_more: int
    slower: tuple[ServiceRow, ...]
    too_few: int
    trust: tuple[TrustLine, ...]


def first_screen(
    result: PlanResult, rows: Sequence[ServiceRow], why: dict[str, str], evidence: DrainEvidence
) -> FirstScreen:
    """The first screen of a run; rows come soonest first."""
    inspect = _inspect_lines(result, rows)
    ahead = [row for row in rows if _within(row, result.as_of, AHEAD_DAYS)]
    shown = rows[: min(MOST_SHOWN, max(len(ahead), FEWEST_SHOWN))]
    faster = sorted((row for row in rows if row.standing == FASTER), key=lambda row: row.hours_ratio or 1.0)
    return FirstScreen(
        headline=_headline(rows, inspect, result.as_of),
        inspect=inspect,
        due=tuple(_due_line(row, result.as_of) for row in shown),
        due_more=max(0, len(ahead) - len(shown)),
        faster=tuple(
            StandingLine(row, evidence.sentence(row.unit_id, row.set_by), why.get(row.unit_id, ""))
            for row in faster[:MOST_SHOWN]
        ),
        faster_more=max(0, len(faster) - MOST_SHOWN),
        slower=tuple(row for row in rows if row.standing == SLOWER),
        too_few=sum(row.standing == "too few drains" for row in rows),
        trust=_trust_lines(result, rows),
    )


def _within(row: ServiceRow, as_of: date, days: int) -> bool:
    """Due within these days; a unit whose hours are not known counts as due, since unknown is never safe."""
    if row.past_interval or row.hours_left is None:
        return True
    return row.act_by is not None and row.act_by <= as_of + timedelta(days=days)


def _headline(rows: Sequence[ServiceRow], inspect: Sequence[InspectLine], as_of: date) -> str:
    over = sum(row.past_interval for row in rows)
    unknown = sum(row.hours_left is None for row in rows)
    soon = sum(_within(row, as_of, SOON_DAYS) for row in rows) - over - unknown
    parts = []
    if inspect:
        parts.append(f"Inspect {words.counted(len(inspect), 'unit')} now.")
    if over:
        parts.append(f"{words.counted(over, 'unit')} {words.plural(over, 'is', 'are')} past the interval.")
    if unknown:
        parts.append(f"Hours are not known for {words.counted(unknown, 'unit')}.")
    until = words.weekday(as_of + timedelta(days=SOON_DAYS), as_of)
    if soon:
        more = "more " if over else ""
        parts.append(
            f"{words.counted(soon, f'{more}unit', f'{more}units')} {words.plural(soon, 'is', 'are')} due by {until}."
        )
    elif rows and not over and not unknown:
        parts.append(f"Nothing is due by {until}.")
    if not rows:
        parts.append("No unit is in service.")
    return " ".join(parts)


def _due_line(row: ServiceRow, as_of: date) -> DueLine:
    act_by = None if row.past_interval else row.act_by
    return DueLine(
        row=row,
        when=row.due_words(as_of),
        away="" if act_by is None else words.days_away(act_by, as_of),
        left=row.left_words(),
        late=row.past_interval,
    )


def _inspect_lines(result: PlanResult, rows: Sequence[ServiceRow]) -> tuple[InspectLine, ...]:
    in_service = {row.unit_id for row in rows}
    return tuple(
        InspectLine(
            unit_id=str(cells["unit_id"]),
            anchor=words.anchor(str(cells["unit_id"])),
            in_service=cells["unit_id"] in in_service,
            signs=str(cells["signs"]),
            seen_on=words.day(words.as_date(cells["drained_on"]), result.as_of),
        )
        for cells in result.inspect_now.iter_rows(named=True)
    )


def _trust_lines(result: PlanResult, rows: Sequence[ServiceRow]) -> tuple[TrustLine, ...]:
    return (_held_back_line(result), *_fit_lines(result), *_hours_lines(rows), *_warning_lines(result))


def _held_back_line(result: PlanResult) -> TrustLine:
    read = sum(account.read for account in result.accounts)
    held = sum(account.held_back for account in result.accounts)
    if held == 0:
        return TrustLine("Rows", f"All {words.counted(read, 'row')} of the log were accepted.", doubt=False)
    text = f"{words.counted(held, 'row')} of {read} held back and not used. Mend them and run again."
    return TrustLine("Rows", text, doubt=True, link="held-back")


def _fit_lines(result: PlanResult) -> list[TrustLine]:
    lines = []
    for channel in result.channels:
        name = channel.channel.capitalize()
        if channel.why_not is not None:
            lines.append(TrustLine(name, channel.why_not, doubt=True, link=f"channel-{channel.channel}"))
        elif channel.diagnostics is not None and not channel.diagnostics.trusted:
            text = f"Do not lean on this fit. {channel.diagnostics.message}"
            lines.append(TrustLine(name, text, doubt=True, link=f"channel-{channel.channel}"))
        else:
            lines.append(
                TrustLine(name, "The fit passed its checks.", doubt=False, link=f"channel-{channel.channel}")
            )
    return lines


def _hours_lines(rows: Sequence[ServiceRow]) -> list[TrustLine]:
    unknown = sum(row.hours_left is None for row in rows)
    estimated = sum(row.estimated and row.hours_on_oil is not None for row in rows)
    undated = sum(row.act_by is None and not row.past_interval and row.hours_left is not None for row in rows)
    parts = []
    if unknown:
        parts.append(f"Hours on the oil are not known for {words.counted(unknown, 'unit')}: treat as due.")
    if estimated:
        parts.append(f"Hours are estimated for {words.counted(estimated, 'unit')}.")
    if undated:
        parts.append(f"No date known for {words.counted(undated, 'unit')}: go by the hours left.")
    return [TrustLine("Hours", " ".join(parts), doubt=bool(unknown or undated))] if parts else []


def _warning_lines(result: PlanResult) -> list[TrustLine]:
    return [TrustLine("Note", warning, doubt=True) for warning in result.warnings]
