"""An interval is called shorter by a question only where the recommended hours are."""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.asked_intervals import (
    MOST_NAMED,
    ShorterInterval,
    intervals_shorter_by_questions,
    shorter_interval_sentences,
)
from draincurve.pipeline.deciding.intervals import DecidedIntervals
from draincurve.pipeline.deciding.unit_scoring import DecidedUnits
from draincurve.pipeline.describing import names_question

NAMES = (names_question({"rider": {"Braks": "Brask"}}),)
HOURS = ("which hours the rows that are asked about ran",)


def decided(*unrounded: float) -> DecidedUnits:
    """Decisions with these hours before rounding down to half hours; infinite where nothing sets an interval."""
    hours = np.array(unrounded)
    rounded = np.where(np.isfinite(hours), np.floor(2 * np.nan_to_num(hours, posinf=0.0)) / 2, np.nan)
    table = pl.DataFrame({"interval_h": pl.Series(rounded, nan_to_null=True)})
    none = np.full(hours.size, np.inf)
    return DecidedUnits(DecidedIntervals(table, hours, none, (), none < 0, {}), hours)


def test_hours_that_round_to_the_same_interval_are_not_shorter() -> None:
    known, as_one = decided(3.77, 8.06, 4.4), decided(3.70, 7.99, 4.6)
    found = intervals_shorter_by_questions(["F07", "F03", "F01"], known, [(as_one, NAMES)])
    assert found == (ShorterInterval("F03", 7.5, 8.0, NAMES),)
    (sentence,) = shorter_interval_sentences(found)
    assert sentence == (
        "1 interval is shorter until it is known whether Braks is Brask, since the shorter one counts until then: "
        "F03 (7.5 h, otherwise 8 h)."
    )


def test_each_unit_names_the_question_whose_answer_is_the_shortest() -> None:
    known, by_hours, as_one = decided(5.0, 5.0, np.inf), decided(4.0, 5.0, 3.0), decided(4.5, 2.0, 3.2)
    found = intervals_shorter_by_questions(["F01", "F02", "F03"], known, [(by_hours, HOURS), (as_one, NAMES)])
    assert [(unit.unit_id, unit.interval_h, unit.questions) for unit in found] == [
        ("F01", 4.0, HOURS),
        ("F02", 2.0, NAMES),
        ("F03", 3.0, HOURS),
    ]
    first, second = shorter_interval_sentences(found)
    assert "2 intervals are shorter until it is known which hours" in first
    assert first.endswith("F01 (4 h, otherwise 5 h), F03 (3 h, otherwise none).")
    assert second.endswith("F02 (2 h, otherwise 5 h).")


def test_without_a_question_nothing_is_shorter_and_many_units_are_counted() -> None:
    assert intervals_shorter_by_questions(["F01"], decided(5.0), []) == ()
    assert shorter_interval_sentences(()) == ()
    many = [ShorterInterval(f"F{number:02d}", 4.0, 5.0, NAMES) for number in range(MOST_NAMED + 3)]
    (sentence,) = shorter_interval_sentences(many)
    assert sentence.endswith(" and 3 more.")
