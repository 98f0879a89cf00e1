"""What to do where predictions did not hold: by the direction in which they were off."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.judging.backtest.backtest_verdicts import first_screen_sentence
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult, ChannelBacktest
from draincurve.pipeline.judging.backtest.risk_calibration import RiskCheck
from draincurve.pipeline.judging.backtest.score_comparison import RivalScore
from draincurve.reports.content.sections.backtest_section import backtest_section

EARLIER = "change the oil earlier"
SHORTER = "The oil was cleaner than predicted; intervals may be shorter than needed. Keep to them, and look."


def lost(past: int, *, within: RiskCheck | None = None) -> BacktestResult:
    """A backtest of 31 drains whose model was no closer than the fleet's ratings, 7.6 past the limit expected."""
    rival = RivalScore("the fleet's ratings", 0.12, 0.01, None, None)
    channel = ChannelBacktest(
        channel="debris", limit=4, accepted_risk=0.1, origins=(date(2026, 3, 1),), drains=31, units=6, score=0.13,
        fleet=rival, fleet_by_hours=rival, boosted=None, bins=(), whole=RiskCheck(31, past, 7.6, 0.04, 0.9),
        within_risk=within, coverage=(), brier=None, spiegelhalter_z=None, verdict="",
    )  # fmt: skip
    return BacktestResult((channel,), (), None, pl.DataFrame())


def texts(result: BacktestResult) -> tuple[str, ...]:
    """The sentences of the first screen, in figures and in plain words."""
    return first_screen_sentence(result) or "", backtest_section(None, result).plain  # type: ignore[arg-type]


def test_a_model_that_was_too_cautious_does_not_call_for_earlier_changes() -> None:
    for text in texts(lost(past=4)):
        assert f"of 31 later drains, 4 were past the limit, where 7.6 were expected. {SHORTER}" in text
        assert EARLIER not in text


@pytest.mark.parametrize(
    ("result", "numbers"),
    [
        (lost(past=9), "9 were past the limit, where 7.6"),
        (
            lost(past=4, within=RiskCheck(12, 2, 0.6, 0.02, 0.5)),
            "within the hours that were predicted, 2 were past the limit, where 0.6",
        ),
    ],
)
def test_more_past_the_limit_than_predicted_calls_for_earlier_changes(result: BacktestResult, numbers: str) -> None:
    for text in texts(result):
        assert numbers in text
        assert EARLIER in text
        assert SHORTER not in text
