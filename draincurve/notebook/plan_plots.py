"""The pictures of a plan on matplotlib axes: a new figure's, or those that are given."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from draincurve.notebook.notebook_inputs import not_among, of_kind
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.hours_pictures import MOST_UNITS, hours_rows
from draincurve.reports.content.report_content import ReportOpening
from draincurve.reports.content.sections.drain_rows import drains_by_unit
from draincurve.reports.content.sections.unit_pictures import curves_by_unit, unit_histories
from draincurve.reports.figures.channel_curve_figure import channel_curve_on
from draincurve.reports.figures.figure_style import drawing_style
from draincurve.reports.figures.hours_left_figure import ROW_HEIGHT, axis_end, hours_left_on
from draincurve.reports.figures.unit_risk_figure import unit_risk_on
from draincurve.schemas.errors import SourceError

POINTS_AN_INCH = 72.0
TITLE_PAD = 20.0
"""Space below the title of a unit, for the label of its interval [points]."""


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class PlanPlots:
    """Pictures of a plan, those of its report."""

    run: PlanResult
    opening: ReportOpening

    def hours_left(self, *, ax: Axes | None = None) -> Axes:
        """Hours on the oil against the interval, one row for each unit, the soonest due on top (60 at most)."""
        rows = hours_rows(self.opening.rows[:MOST_UNITS], self.run.as_of, wide=True)
        with _axes(ax, height=54.0 + ROW_HEIGHT * len(rows), width=620.0) as axes:
            hours_left_on(axes, rows, end=axis_end(rows))
        return axes

    def channel(self, name: str, *, ax: Axes | None = None) -> Axes:
        """The risk of oil past fit against hours over the whole fleet, for one channel, such as "debris".

        Raises SourceError for an unknown channel.
        """
        channels = {channel.channel: channel for channel in self.run.judged.channels}
        if not isinstance(name, str) or name not in channels:
            raise not_among("channel", name, known=channels)
        with _axes(ax) as axes:
            channel_curve_on(axes, channels[name], accepted_risk=self.run.settings.accepted_risk)
            axes.set_ylabel(f"{name} at or past the limit")
        return axes

    def unit(self, name: str, *, ax: Axes | None = None) -> Axes:
        """The risk of one unit against hours, its interval, and its drains in the channel that sets the interval.

        Where no channel does, its drains are those of the first channel that is rated.

        Raises SourceError for a unit that is not in service, and for one without a rated drain.
        """
        opening = self.opening
        rows = {row.name: row for row in opening.rows}
        if not isinstance(name, str) or name not in rows:
            raise not_among("unit", name, known=rows)
        row = rows[name]
        partner = rows.get(self.run.judged.legs.partners.get(name, ""))
        drains = drains_by_unit(opening.result.described.drains, opening.names).get(name, [])
        histories = {history.channel: history for history in unit_histories(drains, self.run.judged.channels)}
        risk = curves_by_unit(opening.result, opening.names).risk_of(row, partner)
        if not histories:
            raise SourceError(f"unit {name}: has no rated drain with known hours, so there is nothing to draw")
        with _axes(ax) as axes:
            unit_risk_on(
                axes,
                histories.get(row.set_by or "", next(iter(histories.values()))),
                interval_h=row.interval_h,
                interval_range_h=row.interval_range_h,
                risk=risk,
            )
            axes.set_title(name, loc="left", pad=TITLE_PAD)
        return axes


@contextmanager
def _axes(given: Axes | None, *, width: float = 470.0, height: float = 360.0) -> Iterator[Axes]:
    """The given axes, or those of a new figure [points], to draw in under our settings until the block ends."""
    from matplotlib import pyplot

    if given is not None:
        of_kind(given, Axes, name="ax", expected="matplotlib Axes")
    with drawing_style():
        axes = given
        if axes is None:
            size = (width / POINTS_AN_INCH, height / POINTS_AN_INCH)
            axes = pyplot.figure(figsize=size, layout="constrained").add_subplot()
        yield axes
    for line in list(axes.lines):
        if not np.size(line.get_xdata()):  # unclipped and without points, it would stretch a figure's layout
            line.remove()
