"""Why a unit is due when it is: one plain sentence, built from what was decided."""

from __future__ import annotations

from typing import Any

import polars as pl

from draincurve.pipeline.deciding.due_dates import DueFrom
from draincurve.schemas.channels import channel_names
from draincurve.schemas.settings import Settings

WITHOUT_DATE = {
    DueFrom.NO_RATE: "no date, since no riding is known to reckon with",
    DueFrom.NO_HOURS: "no date, since the hours on the oil are not known",
    DueFrom.NO_INTERVAL: "no date, since nothing sets an interval",
}

SHARED_BY = {"spring_type": "spring", "oil_grade": "oil", "rider": "rider", "site": "site"}
"""What a unit without a drain has in common with others, in words."""


def reasons(decided: pl.DataFrame, settings: Settings) -> list[str]:
    """One sentence per row on what set the interval and the date, with what was borrowed or estimated.

    decided : the columns of next_service and, beside them, signs, limit_borrowed, cost_binds, oil_days,
    hours_set_by, risk_by_channel, drain_day_h, unknown_days, unknown_h, hours_per_day, rate_from, due_from,
    past_plausible_h, and wear_why, wear_why_run and wear_over_h where wear set the hours
    """
    return [_sentence(row, settings) for row in decided.iter_rows(named=True)]


def _sentence(row: dict[str, Any], settings: Settings) -> str:
    parts = [_interval(row, settings), _borrowed(row), _history(row), _hours(row), _date(row)]
    body = "; ".join(part for part in parts if part)
    if row["signs"]:
        body = f"inspect now, whatever the interval ({row['signs']}); {body}"
    return f"{body[0].upper()}{body[1:]}."


def _interval(row: dict[str, Any], settings: Settings) -> str:
    hours, source = row["interval_h"], row["hours_set_by"]
    if hours is None:
        return "no interval, since no rating model could be fitted and no limit is set"
    if source == "wear":
        are_run = row["hours_left"] is not None and row["hours_left"] <= 0
        return str(row["wear_why_run" if are_run else "wear_why"])
    if hours == 0:
        step = f"one step of {settings.step_h:g} h"
        return f"{_source_text(source)} allows less than {step}: change the oil after every ride"
    if row["cost_binds"]:
        return f"{source} sets {hours:g} h, the cheapest by the costs set"
    if source in channel_names():
        risk = f"{100 * settings.accepted_risk:.3g} %"
        where = f"where the chance that the oil is past fit reaches {risk}"
        if not row["risk_by_channel"]:
            return f"{source} sets {hours:g} h, {where}"
        return f"{hours:g} h, {where}: {row['risk_by_channel']}; oil past both limits counts under both"
    if source == "data_range":
        return (
            f"{hours:g} h, no more than {settings.data_range_factor:g} times the longest fill seen on such a spring"
        )
    return f"{_source_text(source)} sets {hours:g} h"


def _source_text(source: str) -> str:
    return {
        "maker_limit": "the maker's limit",
        "data_range": "the longest fill seen",
    }.get(source, source)


def _days(count: float) -> str:
    return f"{count:g} day" if count == 1 else f"{count:g} days"


def _borrowed(row: dict[str, Any]) -> str:
    if not row["limit_borrowed"]:
        return ""
    return "a limit missing in the register was taken from the shortest of like units"


def _history(row: dict[str, Any]) -> str:
    if row["drains"]:
        return ""
    known = [word for column, word in SHARED_BY.items() if row[column]]
    shared = " for its " + " and ".join([", ".join(known[:-1]), known[-1]][len(known) < 2 :]) if known else ""
    return (
        f"no drain of this unit is in the log, so its values are the fleet's{shared}: its first drain, by these "
        "hours at the latest, tells its own"
    )


def _hours(row: dict[str, Any]) -> str:
    hours = row["hours_on_oil"]
    if hours is None:
        return ""
    if row["past_plausible_h"] is not None:
        most = "the estimated hours on the oil are far over any fill in the log"
        return f"{most}: write down the drains and riding since the last one"
    text = f"{hours:.3g} h on the oil"
    if row["unknown_h"] and row["unknown_days"]:
        text += f", of which {row['unknown_h']:.3g} h count for {_days(row['unknown_days'])} that no usage log covers"
    elif row["unknown_h"]:
        text += f", of which {row['unknown_h']:.3g} h were booked and not logged"
    if row["drain_day_h"] > 0:
        text += f", {row['drain_day_h']:.3g} h of it ridden on the day of the drain"
    return text


def _date(row: dict[str, Any]) -> str:
    source = row["due_from"]
    if source in WITHOUT_DATE:
        return WITHOUT_DATE[DueFrom(source)]
    if source == DueFrom.UNKNOWN_OIL:
        return "due now, since the hours on this oil are not known"
    if source == DueFrom.OIL_AGE:
        return f"the oil's age of {_days(row['oil_days'])} sets the date"
    if source == DueFrom.OVERDUE and row["past_plausible_h"] is not None:
        return "due by that estimate"
    if source == DueFrom.OVERDUE and row["hours_set_by"] == "wear" and row["interval_h"] == 0:
        if row["wear_over_h"] is None:
            return "wear leaves no hours"
        return f"that was {row['wear_over_h'] + row['hours_on_oil']:.3g} h ago, before this oil was filled"
    if source == DueFrom.OVERDUE:
        on_which = " on this oil" if row["hours_set_by"] == "wear" else ""
        return f"overdue by {-row['hours_left']:.3g} h{on_which}" if row["hours_left"] < 0 else "the hours are run"
    if source == DueFrom.BOOKING:
        return f"due before the booking of {row['due_before']:%-d %b}, which would go past it"
    known = {"usage": "its usage log", "drains": "its past drains", "site": "its site", "fleet": "the fleet"}
    return f"{row['hours_per_day']:.2g} h a day by {known[row['rate_from']]}"
