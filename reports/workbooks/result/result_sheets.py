"""The sheets of tables.xlsx and what each of them holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.deciding import NextSample
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.sections.work_list import WorkList
from draincurve.reports.content.work_text import MEANINGS
from draincurve.reports.tables.csv_tables import to_three_decimals
from draincurve.reports.workbooks.result.result_columns import ResultColumn, model_meanings, result_columns
from draincurve.reports.workbooks.result.wear_rows import WEAR_MEANINGS, wear_table
from draincurve.schemas.channels import channel_names
from draincurve.schemas.fleet_intervals_table import FleetIntervals
from draincurve.schemas.forecast_table import Forecast
from draincurve.schemas.held_back_table import HeldBack
from draincurve.schemas.next_service_table import NextService
from draincurve.schemas.parts_table import Parts
from draincurve.schemas.spring_effects_table import SpringEffects

MOST_ROWS = 10_000
"""Rows of one sheet; more take longer to write than the rest of a run. The CSV file has them all."""

_SAMPLE_SCHEMA = {
    "unit_id": pl.String,
    "site": pl.String,
    "channel": pl.String,
    "at_hours": pl.Float64,
    "past_accepted_risk": pl.Boolean,
    "narrower": pl.Float64,
    "of": pl.String,
    "why": pl.String,
}
_SAMPLE_MEANINGS = {
    "unit_id": "the unit to drain",
    "site": "workshop or base; empty where none is named",
    "channel": "the channel that its rating would tell most about",
    "at_hours": "hours on the oil at which to drain it [h]",
    "past_accepted_risk": "whether the chance of oil past fit is then over the accepted risk",
    "narrower": "width of the range after the drain as a share of that before, given the drains above; 1 is no gain",
    "of": "whose interval gets a narrower range: the fleet's or the unit's own",
    "why": "why this drain",
}
_WORK_MEANINGS = {
    "done": "to be ticked",
    "site": "workshop or base; empty where all are at one",
    "unit": "the unit to see to",
    "place": "its machine and position, as far as known",
    "rider": "who rides it, as far as known",
    "word": "; ".join(f"{word}: {meaning}" for word, meaning in MEANINGS),
    "what_to_do": "what to do to it, in order",
    "why": "hours on the oil against the hours allowed, what set them, and when it is due again within the week",
    "oil": "oil to fill",
    "amount": "how much of it, with its source where that is not the register",
    "parts": "what is known of its parts; empty does not mean sound",
}
_HELD_BACK_MEANINGS = {
    "table": "table of the log that the row is in",
    "row": "the whole row as it came, its cells under their headings",
}
_ASKED_MEANINGS = {
    "source": "file or table that the row is in",
    "line": "line number in that source; empty where the whole log is meant",
    "unit_id": "unit that the row names",
    "day": "day of the row",
    "column": "column that is asked about",
    "value": "the value as typed",
    "message": "what is asked, and what to do",
    "proposal": "what the cell may have meant",
    "setting": "lines for the settings that would answer",
}


@dataclass(frozen=True, slots=True)
class ResultSheet:
    """One sheet.

    holds : what it contains.  naming_columns : how many columns name a row and stay in view.  left_out : rows that
    only the CSV file has.
    """

    name: str
    holds: str
    table: pl.DataFrame
    columns: tuple[ResultColumn, ...]
    naming_columns: int
    left_out: int = 0


def work_sheet(work: WorkList) -> ResultSheet:
    """The work list, line by line."""
    lines = [
        (
            "",
            line.site,
            line.name,
            line.place,
            line.rider,
            line.word,
            line.task,
            line.why,
            line.oil,
            line.amount,
            line.parts,
        )
        for line in work.lines
    ]
    table = pl.DataFrame(lines, schema=dict.fromkeys(_WORK_MEANINGS, pl.String), orient="row")
    return _sheet(
        "work_list",
        f"what to do: {work.title}. By site and machine; {work.later or 'nothing is known to follow within a week.'}",
        table=table.with_columns(pl.col(pl.String).replace("", None)),
        meanings=_WORK_MEANINGS,
        naming_columns=3,
    )


def result_sheets(result: PlanResult, tables: Mapping[str, pl.DataFrame]) -> tuple[ResultSheet, ...]:
    """The sheets of one run, values as in the CSV files; tables : checked, as `write_tables` returns them."""
    return (
        _sheet(
            "next_service",
            "one row for each unit in service: its interval, date, risk and standing, soonest first",
            table=tables["next_service"],
            meanings=model_meanings(NextService),
            naming_columns=1,
        ),
        _sheet(
            "fleet_intervals",
            "one row for each spring and oil in use: the interval of a unit without history",
            table=tables["fleet_intervals"],
            meanings=model_meanings(FleetIntervals),
            naming_columns=2,
        ),
        _sheet(
            "spring_effects",
            f"one row for each pair of springs and each of {wording.listed(list(channel_names()))}",
            table=tables["spring_effects"],
            meanings=model_meanings(SpringEffects),
            naming_columns=3,
        ),
        _sheet(
            "forecast",
            "services, rebuilds and litres of each oil for the weeks ahead, and for all of them together",
            table=tables["forecast"],
            meanings=model_meanings(Forecast),
            naming_columns=3,
        ),
        *_part_sheets(tables),
        *_wear_sheets(result),
        _sheet(
            "next_samples",
            "what to drain next: the drains that would narrow the answers most, the most useful first",
            table=sample_table(result.decided.next_samples),
            meanings=_SAMPLE_MEANINGS,
            naming_columns=1,
        ),
        _sheet(
            "held_back",
            "every row that was not used, and why",
            table=tables["held_back"],
            meanings={**_HELD_BACK_MEANINGS, **model_meanings(HeldBack)},
            naming_columns=2,
            rows=result.log.held_back_count,
        ),
        _sheet(
            "asked_about",
            "every question about rows that were kept, or about the whole log",
            table=result.log.asked.select(list(_ASKED_MEANINGS)),
            meanings=_ASKED_MEANINGS,
            naming_columns=2,
        ),
    )


def _part_sheets(tables: Mapping[str, pl.DataFrame]) -> tuple[ResultSheet, ...]:
    """The parts with their dates, where a table of parts was given."""
    if "parts" not in tables:
        return ()
    holds = "every part whose life is limited: hours, date, and the visit at which to see to it"
    return (_sheet("parts", holds, table=tables["parts"], meanings=model_meanings(Parts), naming_columns=3),)


def _wear_sheets(result: PlanResult) -> tuple[ResultSheet, ...]:
    """Each unit and quantity with its limit and projected crossing, where anything was measured."""
    wear = result.decided.wear
    if wear is None or not wear.quantities:
        return ()
    holds = "one row for each unit and measured quantity: latest reading, limit, and where its line meets it"
    return (_sheet("wear", holds, table=wear_table(wear), meanings=WEAR_MEANINGS, naming_columns=3),)


def sample_table(samples: Sequence[NextSample]) -> pl.DataFrame:
    """What to drain next as a table, in the order of the list."""
    rows = [{name: getattr(sample, name) for name in _SAMPLE_SCHEMA} for sample in samples]
    return pl.DataFrame(rows, schema=_SAMPLE_SCHEMA)


def _sheet(
    name: str,
    holds: str,
    *,
    table: pl.DataFrame,
    meanings: dict[str, str],
    naming_columns: int,
    rows: int | None = None,
) -> ResultSheet:
    """One sheet; rows : their number, if there are more than the table has."""
    shown = to_three_decimals(table.head(MOST_ROWS))
    more = (table.height if rows is None else rows) - shown.height
    return ResultSheet(name, holds, shown, result_columns(shown, meanings), naming_columns, more)
