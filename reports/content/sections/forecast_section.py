"""The section on the next weeks: services, rebuilds and litres of each oil, with their ranges."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl
from matplotlib.figure import Figure

from draincurve.pipeline.deciding import ForecastResult
from draincurve.reports.content import wording
from draincurve.reports.figures.forecast_figure import WeekBar, draw_forecast
from draincurve.reports.figures.svg_picture import Picture, inline_picture
from draincurve.schemas.forecast_table import OIL, REBUILDS, SERVICES

LEAST_SHOWN = 0.05
"""Anything less is shown as 0."""
EVENT_WEEK = (
    "What to have ready now is counted by the work list, site by site, for the changes on it; this table is for "
    "ordering, and counts all services expected in each week, those for wear and second ones too. "
    "A service before a booked event is counted in the week of the event, though it is done before it; the first "
    "screen and the work list go by the day of the work."
)


@dataclass(frozen=True, slots=True)
class ForecastRow:
    """One week, or all of them, in words; cells : in the order of the section's headings."""

    when: str
    cells: tuple[str, ...]
    total: bool


@dataclass(frozen=True, slots=True)
class ForecastSection:
    """The table, and a picture of services by week."""

    headings: tuple[str, ...]
    rows: tuple[ForecastRow, ...]
    sentences: tuple[str, ...]
    picture: Picture | None


def forecast_section(figure: Figure, result: ForecastResult | None, *, as_of: date) -> ForecastSection | None:
    """The weeks ahead in words and a picture; None if nothing is due in them."""
    if result is None or not result.table.height or not float(result.table["expected"].sum()):
        return None
    columns = _columns(result.table)
    spans = result.table.select("week_from", "week_to").unique(maintain_order=True).rows()
    weeks = [span for span in spans if (span[1] - span[0]).days < 7]
    cells = {
        (row["week_from"], row["week_to"], row["item"], row["oil_grade"]): row
        for row in result.table.iter_rows(named=True)
    }
    rows = tuple(
        ForecastRow(
            when=f"{wording.day(span[0], as_of)} to {wording.day(span[1], as_of)}",
            cells=tuple(_cell(cells.get((*span, *column))) for column in columns),
            total=span not in weeks,
        )
        for span in spans
    )
    return ForecastSection(
        tuple(_heading(*column) for column in columns),
        rows,
        (*result.sentences, EVENT_WEEK),
        _picture(figure, [(span[0], cells[*span, SERVICES, None]) for span in weeks], as_of=as_of),
    )


def _columns(table: pl.DataFrame) -> list[tuple[str, str | None]]:
    """Item and grade of each column, in the order of the table."""
    columns = table.select("item", "oil_grade").unique(maintain_order=True).rows()
    return sorted(columns, key=lambda column: (SERVICES, REBUILDS, OIL).index(column[0]))


def _heading(item: str, grade: str | None) -> str:
    return f"{grade} [l]" if item == OIL else item.capitalize()


def _cell(row: dict[str, Any] | None) -> str:
    """Expected and range: 5.3 (5 to 6); litres with one decimal."""
    if row is None or row["expected"] < LEAST_SHOWN:
        return "0"
    digits = 1 if row["item"] == OIL else 0
    expected = f"{row['expected']:.1f}"
    low, high = f"{row['low']:.{digits}f}", f"{row['high']:.{digits}f}"
    return f"{expected} ({low})" if low == high else f"{expected} ({low} to {high})"


def _picture(figure: Figure, weeks: list[tuple[date, dict[str, Any]]], *, as_of: date) -> Picture | None:
    """Services by week; None for a single week, whose picture would add nothing to the table."""
    if len(weeks) < 2:
        return None
    bars = [WeekBar(wording.day(begin, as_of), row["expected"], row["low"], row["high"]) for begin, row in weeks]
    draw_forecast(figure, bars)
    most = max(bars, key=lambda bar: bar.expected)
    description = (
        f"Services expected in each of {len(bars)} weeks with their 80 % range; most, {most.expected:.1f} "
        f"({most.low:.0f} to {most.high:.0f}), in the week of {most.begins}."
    )
    return inline_picture(figure, "forecast", title="Services by week", description=description)
