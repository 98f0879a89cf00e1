"""Results of a backtest of measured quantities, and their meaning in sentences."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.judging.backtest.risk_calibration import RiskCheck
from draincurve.pipeline.judging.backtest.score_comparison import RivalScore


@dataclass(frozen=True, slots=True)
class RangeCoverage:
    """Central ranges of predicted readings: their probability, the share inside and its 95 % interval (Wilson)."""

    nominal: float
    covered: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class QuantityBacktest:
    """One quantity: later readings, each predicted from the readings before it.

    name, title, unit : of the quantity; score_unit : of the scores, "% of the value" where lines are of the log
    origins : dates as of which lines were fitted; score : mean continuous ranked probability score, lower is closer
    worse : readings beyond the bound that the accepted risk allows, on the side of wear; None where only bounds came
    understated : whether these were significantly too many, the number of quantities allowed for
    """

    name: str
    title: str
    unit: str
    score_unit: str
    origins: tuple[date, ...]
    readings: int
    units: int
    score: float
    fleet: RivalScore
    fleet_by_hours: RivalScore
    coverage: tuple[RangeCoverage, ...]
    worse: RiskCheck | None
    understated: bool

    @property
    def doubted(self) -> bool:
        """Whether its wear should not be relied on."""
        return self.understated or self.fleet.wins

    @property
    def widest(self) -> RangeCoverage:
        """The widest range."""
        return self.coverage[-1]

    @property
    def inside(self) -> int:
        """Readings inside it; of one that is a bound the likely share."""
        return round(self.widest.covered * self.readings)

    @property
    def verdict(self) -> str:
        """Two or three sentences."""
        return " ".join(part for part in (self._against_fleet(), self._on_range(), self._on_risk()) if part)

    def _against_fleet(self) -> str:
        numbers = f"score {self.score:.3g} against {self.fleet.score:.3g} {self.score_unit}, lower is closer"
        if self.fleet.wins:
            return f"Worse than the fleet's readings alone, by more than chance ({numbers})."
        if self.fleet.beaten:
            return f"Closer than the fleet's readings alone, by more than chance ({numbers})."
        closer = "Closer than" if self.fleet.difference < 0.0 else "No closer than"
        return f"{closer} the fleet's readings alone, which may be chance ({numbers})."

    def _on_range(self) -> str:
        return f"The {100.0 * self.widest.nominal:.0f} % range held {self.inside} of {self.readings} readings."

    def _on_risk(self) -> str:
        if self.worse is None:
            return ""
        beyond = f"{self.worse.past} of {self.worse.drains} were worse than the accepted risk allows"
        expected = f"{self.worse.expected:.1f} were expected"
        return f"Wear was understated: {beyond}, where {expected}." if self.understated else f"{beyond}; {expected}."


@dataclass(frozen=True, slots=True)
class MeasuredBacktest:
    """The quantities that could be tested, and why others could not.

    without : title and sentence; note : on how it was run, or None; rows : one for each predicted reading, columns of
    draincurve.schemas.backtest_measured_table
    """

    quantities: tuple[QuantityBacktest, ...]
    without: tuple[tuple[str, str], ...]
    note: str | None
    rows: pl.DataFrame

    @property
    def sentence(self) -> str:
        """How earlier predictions of measured values held, for a command's answer."""
        doubts = [backtest for backtest in self.quantities if backtest.doubted]
        if doubts:
            sentences = [
                f"{backtest.title}: {backtest.verdict} Do not rely on its wear; measure sooner."
                for backtest in doubts
            ]
            return " ".join(sentences)
        if not self.quantities:
            return "; ".join(f"{title}: {why}" for title, why in self.without) + "."
        held = ", ".join(
            f"{backtest.title[0].lower()}{backtest.title[1:]} {backtest.inside} of {backtest.readings}"
            for backtest in self.quantities
        )
        return f"Later readings inside their {100.0 * self.quantities[0].widest.nominal:.0f} % range: {held}."
