"""The first screen and the work list speak plainly: a list of words that may not stand there, and ratios in words."""

from __future__ import annotations

import re

import pytest

from draincurve.reports.content.ratio_text import about_share, share_range
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.backtest_section import backtest_section

NOT_THERE = (
    r"score", r"accepted risk", r"no interval is cheapest", r"posterior", r"\bprior\b", r"multiplier", r"quantile",
    r"percentile", r"median", r"confound", r"covariate", r"likelihood", r"\bp = ", r"0\.\d{3}", r"the fit passed",
    r"x the fleet", r"turned", r"caps?\b", r"of other kinds$", r"parameter",
)  # fmt: skip


def said_first(content: ReportContent) -> list[str]:
    """Every sentence of the first screen and the work list that the report words itself."""
    first, work = content.first, content.work
    said = [first.headline, first.asked, *(line.text for line in first.trust)]
    said += [detail for line in first.trust for detail in line.details]
    said += [f"{line.when} {line.away} {line.detail}" for line in first.due]
    said += [f"{line.text} {line.evidence}" for line in first.faster]
    said += [work.title, work.oil, work.later, *work.notes, *(meaning for _, meaning in work.meanings)]
    said += [f"{line.word} {line.task} {line.why} {line.amount} {line.parts}" for line in work.lines]
    return said


@pytest.mark.parametrize("fixture", ["race_content", "hostile_content"])
def test_no_word_of_the_method_stands_on_the_first_two_screens(fixture: str, request: pytest.FixtureRequest) -> None:
    said = said_first(request.getfixturevalue(fixture))
    assert len(said) > 30
    found = [(word, text) for word in NOT_THERE for text in said if re.search(word, text, re.IGNORECASE)]
    assert found == []


def test_the_figures_stand_behind_the_words(race_content: ReportContent) -> None:
    line = race_content.first.faster[0]
    assert line.text == f"oil lasts {line.lasts} ({line.between}), {line.row.ratio_text}"
    assert "x (" in line.row.ratio_text


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (0.485, "about half as long"),
        (0.6, "about three fifths as long"),
        (1.0, "about as long"),
        (1.42, "about 1.4 times as long"),
    ],
)
def test_ratios_in_words(value: float, words: str) -> None:
    assert about_share(value) == words


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.268, 0.777, "between a quarter and four fifths"),
        (0.2, 0.9, "between a fifth and nine tenths"),
        (0.05, 0.15, "between under a tenth and a fifth"),
        (0.81, 1.69, "between four fifths and 1.7 times"),
        (1.09, 2.9, "between 1.0 times and 2.9 times"),
        (0.55, 0.95, "between half and just as long"),
    ],
)
def test_a_range_in_words_is_never_narrower_than_its_figures(low: float, high: float, words: str) -> None:
    assert share_range(low, high) == words


def test_what_could_not_be_tested_is_said_as_it_is() -> None:
    section = backtest_section(None, "the log has 3 rated drains")  # type: ignore[arg-type]
    assert section.plain == section.summary
