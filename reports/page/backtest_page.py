"""backtest.html: how earlier predictions of a log held, as one self-contained page."""

from __future__ import annotations

from datetime import date

from matplotlib.figure import Figure

from draincurve.pipeline.judging.backtest import BacktestResult
from draincurve.reports.content.sections.backtest_section import backtest_section
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.page.templates import html_templates, inlined_style


def backtest_html(result: BacktestResult | str, log_name: str, *, as_of: date) -> str:
    """The page as text; the same result gives the same text.

    result : a sentence where nothing could be tested.
    """
    section = backtest_section(Figure(), result)
    return (
        html_templates()
        .get_template("backtest_page.html")
        .render(
            backtest=section,
            headline=_headline(result, warning=section.warning),
            log_name=log_name,
            as_of=as_of,
            cautions=CAUTIONS,
            style=inlined_style(),
        )
    )


def _headline(result: BacktestResult | str, *, warning: bool) -> str:
    if isinstance(result, str):
        return "Earlier predictions could not be tested."
    if warning:
        return "Earlier predictions did not all hold."
    if not any(channel.fleet.beaten for channel in result.channels):
        return "It is too early to say whether predictions hold."
    return "Earlier predictions have been holding."
