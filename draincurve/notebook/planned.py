"""A plan for a notebook: the main job's tables as frames, its first screen in words, its pictures and its report."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from html import escape
from pathlib import Path
from typing import Any

import polars as pl
from matplotlib.figure import Figure

from draincurve.notebook.notebook_inputs import DayInput, SettingsInput, TableInput, checked_folder, frame_of
from draincurve.notebook.pandas_frames import pandas_frame
from draincurve.notebook.plan_plots import PlanPlots
from draincurve.notebook.read_log import ReadLog, log_of
from draincurve.pipeline import run
from draincurve.pipeline.deciding import Decided
from draincurve.pipeline.describing import Described
from draincurve.pipeline.fitting import Fitted
from draincurve.pipeline.judging import Judged
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.report_content import ReportOpening, report_opening
from draincurve.schemas.channels import channel_names

SHOWN_COLUMNS = (
    "unit_id", "hours_on_oil", "interval_h", "interval_low_h", "interval_high_h", "set_by", "hours_left", "due_on",
    "standing",
)  # fmt: skip
"""Columns of next_service that a notebook shows."""

OF_THE_OIL = (
    "interval_low_h to interval_high_h is the range of the hours of the oil alone; what else set_by names can set an "
    "interval outside it."
)

SHOWN_UNITS = 60

LONG_AGO_DAYS = 60
"""A log without an entry for longer than this, up to the day of the plan, is said to have ended."""


@dataclass(frozen=True, eq=False, repr=False)
class Plan:
    """What `plan` found. Frames are of the kind that was asked for; all hours are in h.

    log, described, fitted, judged, decided : the results of the steps, in their order
    run : the same together, with warnings, timings and versions
    plot : pictures, each drawn by a method that returns matplotlib Axes: hours_left(), channel("debris"),
    unit("F07"); each takes ax= to draw on given axes

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> result = draincurve.plan(fleet.drains, fleet.as_of)
    >>> result
    <Plan for 4 units as of 2026-06-20: Inspect 1 unit now. 1 more is due now. 2 more within a week.>
    >>> axes = result.plot.unit("F01")
    """

    log: ReadLog
    run: PlanResult
    frames: str

    @property
    def next_service(self) -> Any:
        """One row for each unit in service: its interval with range, hours left, due date and standing."""
        return frame_of(self.decided.next_service, self.frames)

    @property
    def fleet_intervals(self) -> Any:
        """One row for each spring and oil in use: the interval of a unit without history."""
        return frame_of(self.decided.fleet_intervals, self.frames)

    @property
    def springs(self) -> Any:
        """One row for each channel and pair of springs: the hours multiplier with range, and the verdict."""
        return frame_of(self.judged.spring_effects, self.frames)

    @property
    def reasons(self) -> Any:
        """One row for each unit: in a sentence, what set its interval and date."""
        return frame_of(self.decided.unit_reasons, self.frames)

    @property
    def inspect_now(self) -> Any:
        """Units with a sign (milky, burnt, leak, worn) that means: inspect now."""
        return frame_of(self.decided.inspect_now, self.frames)

    @property
    def held_back(self) -> Any:
        """Rows of the log that were not used, each with its reason."""
        return self.log.held_back

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to know before trusting the answers, in sentences."""
        return (*self._ended, *self.run.warnings)

    @property
    def described(self) -> Described:
        """The second step: units, fills and rated drains."""
        return self.run.described

    @property
    def fitted(self) -> Fitted:
        """The third step: the rating model of each channel."""
        return self.run.fitted

    @property
    def judged(self) -> Judged:
        """The fourth step: channels, raters, legs, volumes, springs, earlier predictions."""
        return self.run.judged

    @property
    def decided(self) -> Decided:
        """The fifth step: intervals, dates and what to drain next."""
        return self.run.decided

    @property
    def plot(self) -> PlanPlots:
        """Pictures: hours_left(), channel(name), unit(name)."""
        return PlanPlots(self.run, self._opening)

    def report(self, folder: str | Path) -> Path:
        """Write every file that `draincurve plan --out` writes; returns the path of report.html.

        Raises SourceError where `folder` is no path or cannot be written to.
        """
        from draincurve.reports.output.report_files import write_results

        path = checked_folder(folder)
        write_results(self.run, path)
        return path / "report.html"

    @cached_property
    def _ended(self) -> tuple[str, ...]:
        """A sentence where the log ended long before the day of the plan; no riding since then is in it."""
        as_of, accepted = self.run.as_of, self.log.log.accepted
        dated = ((name, column) for name, column in (("drains", "drained_on"), ("usage", "date")) if name in accepted)
        days = pl.concat([accepted[name][column].rename("day") for name, column in dated])
        last = wording.as_date(days.filter(days <= as_of).max())
        if last is None or (as_of - last).days <= LONG_AGO_DAYS:
            return ()
        return (
            f"The log ends on {wording.day(last)}, {(as_of - last).days} days before the day of this plan: riding "
            "since then is assumed, not known. Name as_of to plan as of another day.",
        )

    @cached_property
    def _opening(self) -> ReportOpening:
        return report_opening(Figure(), self.run)

    def __repr__(self) -> str:
        units = wording.counted(self.decided.next_service.height, "unit")
        text = " ".join((self._opening.first.headline, *self._ended))
        return f"<Plan for {units} as of {self.run.as_of}: {text}>"

    def _repr_html_(self) -> str:
        from draincurve.reports.mail_and_calendar.report_mail import first_screen_html

        opening = self._opening
        about = f"{self.run.log.name}, as of {wording.weekday(self.run.as_of)}"
        screen = first_screen_html(opening.first, about=about)
        table = self.decided.next_service
        shown = pandas_frame(table.select(SHOWN_COLUMNS).head(SHOWN_UNITS))
        rows = shown.to_html(index=False, na_rep="", float_format="{:.4g}".format)
        more = table.height - SHOWN_UNITS
        set_by_more = not table.head(SHOWN_UNITS)["set_by"].drop_nulls().is_in(channel_names()).all()
        ended = "".join(f"<p><strong>{escape(sentence)}</strong></p>" for sentence in self._ended)
        note = f"<p>{escape(OF_THE_OIL)}</p>" if set_by_more else ""
        return f"{ended}{screen}{rows}{note}" + (f"<p>{escape(f'and {more:,} more units')}</p>" if more > 0 else "")


def plan(
    log: ReadLog | TableInput,
    as_of: DayInput = None,
    *,
    settings: SettingsInput = None,
    units: TableInput = None,
    usage: TableInput = None,
    bookings: TableInput = None,
    oils: TableInput = None,
    measurements: TableInput = None,
    parts: TableInput = None,
    frames: str = "pandas",
) -> Plan:
    """The main job: from a service log to the hours that each unit may run, and the day its oil is due.

    log : what `read` gave, or a path, an address, or a pandas, polars or Arrow frame with one row for each drain
    as_of : day the answers are for, a date or ISO text; today by default, for a log that is read already its own day
    settings : a dict of the settings that differ from the defaults, Settings, or the path of a TOML file
    units, usage, bookings, oils, measurements, parts : further tables, given as the log is
    frames : pandas or polars, the kind of the frames in the result

    Raises SourceError for tables that cannot be used as a whole and SettingsError for wrong settings; a bad row stops
    nothing, it is held back with its reason.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=32)
    >>> result = draincurve.plan(fleet.drains, fleet.as_of, settings={"accepted_risk": 0.05})
    >>> result.next_service[["unit_id", "interval_h", "set_by"]]
      unit_id  interval_h  set_by
    0     F01         8.5  debris
    1     F02         9.0  debris
    2     F03         4.0  debris
    3     S01         1.0  debris
    """
    sides = {
        "units": units,
        "usage": usage,
        "bookings": bookings,
        "oils": oils,
        "measurements": measurements,
        "parts": parts,
    }
    checked = log_of(log, as_of, settings=settings, sides=sides, frames=frames)
    return Plan(checked, run.plan(checked.inputs, log=checked.log), frames)
