"""The outcome of a night in lines for people."""

from __future__ import annotations

from collections.abc import Sequence

from draincurve.nightly.night_outcome import MOST_NAMED, NightOutcome
from draincurve.reports.content.wording import counted, first_few

_STATUS = {
    "done": "There is a new report",
    "held back": "There is a new report, and rows were held back",
    "unchanged": "Nothing has changed: the last report stays",
}


def outcome_text(outcome: NightOutcome) -> list[str]:
    """Lines about a night; none about one that failed or was stopped, whose message is a line of its own."""
    lines = [] if outcome.status not in _STATUS else _report_lines(outcome)
    for delivery in outcome.deliveries:
        message = delivery.message if delivery.delivered else f"not delivered: {delivery.message}"
        lines += [f"{delivery.way}: {message}", *delivery.left_out]
    lines += [f"Caution: {warning}" for warning in outcome.warnings]
    answers = outcome.setting.splitlines()
    return [*lines, *(["These lines of settings may answer it:", *answers] if answers else [])]


def _report_lines(outcome: NightOutcome) -> list[str]:
    facts, changes, report = outcome.facts, outcome.changes, outcome.report
    assert facts is not None
    assert report is not None
    read, held_back = (sum(getattr(table, name) for table in facts.tables) for name in ("read", "held_back"))
    lines = [
        f"{_STATUS[outcome.status]} ({outcome.seconds:.1f} s).",
        f"{counted(read, 'row')} read, {held_back} held back.",
        f"{counted(len(facts.signs), 'unit')} to inspect now"
        f"{_named([f'{name.unit_id} ({signs})' for name, signs in facts.signs.items()])}.",
        f"{counted(len(facts.due_now), 'unit')} due now{_named([unit.unit_id for unit in facts.due_now])}.",
    ]
    if changes is not None:
        kinds = [f"{name.replace('_', ' ')} {count}" for name, count in changes.counts.items() if count]
        lines.append(f"Since the report of {changes.since}: {', '.join(kinds) or 'nothing changed'}.")
    if outcome.sites:
        lines.append(f"{counted(outcome.sites, 'site')} with a report of its own.")
    return [*lines, f"report: {report / 'report.html'}"]


def _named(units: Sequence[str]) -> str:
    """The first of some units, behind their number."""
    return f": {first_few(units, MOST_NAMED)}" if units else ""
