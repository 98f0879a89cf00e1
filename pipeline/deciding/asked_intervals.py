"""Units whose recommended interval is shorter until a question is answered, and the sentences that say so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.deciding.unit_scoring import DecidedUnits
from draincurve.schemas.array_types import Floats

MOST_NAMED = 12
"""Units named in one sentence; the others are counted."""


@dataclass(frozen=True, slots=True)
class ShorterInterval:
    """A unit whose interval [h], after caps and rounding, is shorter by a possible answer to an open question.

    otherwise_h : the interval without that answer, infinite where there would be none; questions : in words that
    follow "until it is known"
    """

    unit_id: str
    interval_h: float
    otherwise_h: float
    questions: tuple[str, ...]


def intervals_shorter_by_questions(
    unit_ids: Sequence[str], known: DecidedUnits, by_answer: Sequence[tuple[DecidedUnits, tuple[str, ...]]]
) -> tuple[ShorterInterval, ...]:
    """The units with a shorter interval by an answer than by what is known, in their order.

    by_answer : decisions on the same units by each possible answer, with the questions that it answers
    """
    if not by_answer:
        return ()
    otherwise = _rounded_h(known)
    hours = np.array([_rounded_h(decided) for decided, _ in by_answer])
    shortest = hours.argmin(axis=0)
    return tuple(
        ShorterInterval(unit_ids[row], hours[shortest[row], row], otherwise[row], by_answer[shortest[row]][1])
        for row in np.flatnonzero(hours.min(axis=0) < otherwise).tolist()
    )


def shorter_interval_sentences(shorter: Sequence[ShorterInterval]) -> tuple[str, ...]:
    """One sentence for each question that shortens an interval."""
    return tuple(
        _sentence(" and ".join(questions), [unit for unit in shorter if unit.questions == questions])
        for questions in dict.fromkeys(unit.questions for unit in shorter)
    )


def _sentence(question: str, units: Sequence[ShorterInterval]) -> str:
    named = ", ".join(_named(unit) for unit in units[:MOST_NAMED])
    more = f" and {len(units) - MOST_NAMED} more" if len(units) > MOST_NAMED else ""
    verb = "1 interval is" if len(units) == 1 else f"{len(units)} intervals are"
    return f"{verb} shorter until it is known {question}, since the shorter one counts until then: {named}{more}."


def _named(unit: ShorterInterval) -> str:
    otherwise = f"{unit.otherwise_h:g} h" if np.isfinite(unit.otherwise_h) else "none"
    return f"{unit.unit_id} ({unit.interval_h:g} h, otherwise {otherwise})"


def _rounded_h(decided: DecidedUnits) -> Floats:
    return decided.intervals.table["interval_h"].fill_null(float("inf")).to_numpy()
