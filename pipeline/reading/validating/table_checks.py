"""The checks of each table, in order.

A check takes a WorkingTable and returns it with more findings or with other values.
"""

from __future__ import annotations

from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.note_signs import with_note_signs
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.validating.calendar_questions import (
    with_calendar_questions,
    without_impossible_proposals,
)
from draincurve.pipeline.reading.validating.date_slips import with_date_slips
from draincurve.pipeline.reading.validating.hard_limits import with_hard_limits, without_future_dates
from draincurve.pipeline.reading.validating.hour_meter import with_meter_hours
from draincurve.pipeline.reading.validating.hours_questions import with_hours_questions
from draincurve.pipeline.reading.validating.measured_quantities import with_measured_quantities
from draincurve.pipeline.reading.validating.part_rows import with_part_rows
from draincurve.pipeline.reading.validating.people_questions import with_people_questions
from draincurve.pipeline.reading.validating.questions import (
    with_drain_questions,
    with_limit_questions,
    with_missing_hours_questions,
    with_rating_questions,
    with_same_day_questions,
    with_settling_note,
    without_confirmed,
)
from draincurve.pipeline.reading.validating.rating_scale import with_scale_questions
from draincurve.pipeline.reading.validating.repeated_rows import without_repeats
from draincurve.pipeline.reading.validating.volume_questions import with_volume_questions
from draincurve.schemas.settings import Settings


def checked_table(working: WorkingTable, settings: Settings, *, as_of: date) -> WorkingTable:
    """A parsed table with the findings of its checks."""
    if working.table == "drains":
        return _checked_drains(working, settings, as_of=as_of)
    if working.table == "usage":
        return _checked_usage(working, as_of)
    if working.table == "measurements":
        return _checked_measurements(working, settings, as_of=as_of)
    if working.table == "parts":
        return with_hard_limits(with_part_rows(without_future_dates(working, "fitted_on", as_of=as_of)))
    if working.table == "bookings":
        return with_missing_hours_questions(with_same_day_questions(with_hard_limits(working)))
    same, what = (("unit_key",), "unit") if working.table == "units" else (("oil_grade",), "oil grade")
    return with_limit_questions(with_hard_limits(without_repeats(working, same, what=what)))


def _checked_drains(drains: WorkingTable, settings: Settings, *, as_of: date) -> WorkingTable:
    """Copies are out before the meter is read; limits come after hours from the meter, and questions come last."""
    drains = drains.with_parsed(with_note_signs(drains.parsed))
    drains = with_date_slips(without_future_dates(drains, "drained_on", as_of=as_of))
    drains = without_repeats(drains, ("unit_key", "drained_on", "oil_hours"), what="unit, date and hours")
    same, no_hours = ("unit_key", "drained_on", "meter_hours"), pl.col("oil_hours").is_null()
    drains = without_repeats(drains, same, what="unit, date and meter", among=no_hours)
    drains = with_meter_hours(drains, as_of)
    drains = with_hard_limits(drains)
    drains = with_limit_questions(with_hours_questions(drains, as_meant="oil_hours" in settings.headers))
    drains = with_people_questions(with_calendar_questions(without_impossible_proposals(drains)))
    drains = with_drain_questions(with_volume_questions(drains))
    drains = with_scale_questions(drains, settings.clean_end)
    drains = without_confirmed(with_rating_questions(drains))
    return with_settling_note(drains, settings.standard_settle_hours)


def _checked_usage(usage: WorkingTable, as_of: date) -> WorkingTable:
    usage = without_future_dates(usage, "date", as_of=as_of)
    usage = with_hard_limits(usage)
    usage = with_same_day_questions(usage)
    usage = with_missing_hours_questions(usage)
    return with_limit_questions(usage)


def _checked_measurements(measurements: WorkingTable, settings: Settings, *, as_of: date) -> WorkingTable:
    """Rows whose quantity or value cannot be read are not compared with others."""
    measurements = without_future_dates(measurements, "measured_on", as_of=as_of)
    measurements = with_measured_quantities(measurements, settings)
    same, readable = ("unit_key", "measured_on", "quantity", "value"), ~measurements.is_held_back
    measurements = without_repeats(measurements, same, what="unit, date, quantity and value", among=readable)
    return with_hard_limits(measurements)
