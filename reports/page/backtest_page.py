"""backtest.html: how earlier predictions of a log held, as one self-contained page."""

from __future__ import annotations

from datetime import date

from matplotlib.figure import Figure

from draincurve.pipeline.judging.backtest import BacktestResult, MeasuredBacktest
from draincurve.reports.content import wording
from draincurve.reports.content.sections.backtest_section import BacktestSection, backtest_section
from draincurve.reports.content.sections.measured_backtest_section import measured_backtest_section
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.page.templates import html_templates, inlined_style


def backtest_html(
    result: BacktestResult | str, log_name: str, *, as_of: date, measured: MeasuredBacktest | None = None
) -> str:
    """The page as text; the same result gives the same text.

    result : a sentence where nothing could be tested; measured : None for a log without measured values.
    """
    section = backtest_section(Figure(), result)
    return (
        html_templates()
        .get_template("backtest_page.html")
        .render(
            backtest=section,
            measured=None if measured is None else measured_backtest_section(measured),
            headline=_headline(result, section, doubted=section.warning or _doubted(measured)),
            log_name=log_name,
            as_of=as_of,
            cautions=CAUTIONS,
            style=inlined_style(),
        )
    )


def _doubted(measured: MeasuredBacktest | None) -> bool:
    return measured is not None and any(backtest.doubted for backtest in measured.quantities)


def _headline(result: BacktestResult | str, section: BacktestSection, *, doubted: bool) -> str:
    if doubted:
        return "Earlier predictions did not all hold."
    if isinstance(result, str):
        return "Earlier predictions could not be tested."
    if not section.closer:
        return "It is too early to say whether predictions hold."
    return f"Earlier predictions of {wording.listed(list(section.closer))} came closer than the fleet's ratings."
