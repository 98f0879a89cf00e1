"""The section on how earlier predictions of measured values held: a row for each quantity, and what it means."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.judging.backtest import MeasuredBacktest, QuantityBacktest
from draincurve.reports.content import wording
from draincurve.reports.content.sections.backtest_section import lead_of


@dataclass(frozen=True, slots=True)
class QuantityRow:
    """One quantity: readings tried, its score beside those of the fleet's readings, and the checks of its ranges."""

    title: str
    readings: int
    score: str
    fleet: str
    like_hours: str
    lead: str
    held: tuple[str, ...]
    verdict: str


@dataclass(frozen=True, slots=True)
class MeasuredBacktestSection:
    """nominal : the ranges that were checked; without : why quantities could not be tried; warning : not all held."""

    summary: str
    warning: bool
    nominal: tuple[str, ...]
    rows: tuple[QuantityRow, ...]
    without: tuple[str, ...]
    note: str


def measured_backtest_section(result: MeasuredBacktest) -> MeasuredBacktestSection:
    """The backtest of measured quantities in words."""
    return MeasuredBacktestSection(
        summary=result.sentence,
        warning=any(backtest.doubted for backtest in result.quantities),
        nominal=tuple(wording.percent(item.nominal) for item in result.quantities[0].coverage)
        if result.quantities
        else (),
        rows=tuple(_row(backtest) for backtest in result.quantities),
        without=tuple(f"{title}: {why}." for title, why in result.without),
        note="" if result.note is None else wording.sentence(result.note),
    )


def _row(backtest: QuantityBacktest) -> QuantityRow:
    return QuantityRow(
        title=f"{backtest.title} [{backtest.score_unit}]",
        readings=backtest.readings,
        score=f"{backtest.score:.3g}",
        fleet=f"{backtest.fleet.score:.3g}",
        like_hours=f"{backtest.fleet_by_hours.score:.3g}",
        lead=lead_of(backtest.fleet, digits=".3g"),
        held=tuple(f"{100.0 * item.covered:.0f} %" for item in backtest.coverage),
        verdict=f"{backtest.title}: {backtest.verdict}",
    )
