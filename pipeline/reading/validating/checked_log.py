"""A log as typed to accepted rows, rows held back with their reasons, remarks, and the row accounting."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.processing import EVERY_LOG, LogProcessing
from draincurve.pipeline.reading.cleaning.spellings import with_one_spelling
from draincurve.pipeline.reading.cleaning.typed_table import typed_table
from draincurve.pipeline.reading.cleaning.unit_keys import with_unit_keys
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.validating.accepted_tables import accepted_rows, accepted_table, legible_parts
from draincurve.pipeline.reading.validating.accounting import TableAccount, account, held_back_pieces, remarks_of
from draincurve.pipeline.reading.validating.hard_limits import with_hard_limits, without_future_dates
from draincurve.pipeline.reading.validating.held_back_file import HeldBackFile, gathered
from draincurve.pipeline.reading.validating.hour_meter import with_meter_hours
from draincurve.pipeline.reading.validating.measured_quantities import with_measured_quantities
from draincurve.pipeline.reading.validating.part_clocks import with_part_clocks
from draincurve.pipeline.reading.validating.questions import (
    with_drain_questions,
    with_limit_questions,
    with_missing_hours_questions,
    with_rating_questions,
    with_same_day_questions,
    with_settling_note,
)
from draincurve.pipeline.reading.validating.repeated_rows import split_second_ratings, without_repeats
from draincurve.schemas.channels import level_columns
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

SECOND_RATINGS = (
    "unit_key", "unit_id", "drained_on", *level_columns(), "rated_by",
    "drain_source", "drain_line", "source", "line",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Log:
    """A log as it was read and validated.

    as_of : day the answers are for; name : of the log, as the report shows it
    accepted : table name to its typed rows (see draincurve.pipeline.reading.validating.accepted_tables)
    held_back : columns table, source, line, column, value, reason, row; one line for each row held back, of very many
    the first only
    held_back_file : all of them, where they are very many, else None
    remarks : columns source, line (null for the whole file), column, value, kind ("asked", "note"), message
    accounts : read = accepted + held back, for each table
    legible : table name to what could be read in its rows that are held back; no evidence, but a sign, a limit or a
    ride in them still counts on the safe side (see draincurve.pipeline.describing.held_back_facts)
    second_ratings : the same drains rated by somebody else (columns SECOND_RATINGS; drain_source and drain_line are
    the place of the drain); counted as accepted rows of drains
    """

    accepted: dict[str, pl.DataFrame]
    held_back: pl.DataFrame
    remarks: pl.DataFrame
    accounts: tuple[TableAccount, ...]
    legible: dict[str, pl.DataFrame]
    second_ratings: pl.DataFrame
    as_of: date
    name: str = ""
    held_back_file: HeldBackFile | None = None

    @property
    def held_back_count(self) -> int:
        """How many rows were held back."""
        return self.held_back.height if self.held_back_file is None else self.held_back_file.height


def check_log(
    tables: Mapping[str, SourceTable], settings: Settings, as_of: date, *, processing: LogProcessing = EVERY_LOG
) -> Log:
    """Cleans and validates every table of a log.

    Raises SourceError for what is wrong with a table as a whole (headers, no drains at all), ContractError if the
    row accounting does not hold. A bad row raises nothing: it is held back with all its reasons.
    """
    unknown = sorted(set(tables) - set(TABLES))
    if unknown or "drains" not in tables:
        raise SourceError(f"expected a table of drains and perhaps {', '.join(TABLES)}; got {', '.join(tables)}")
    checked, again = _checked_tables(tables, settings, as_of)
    second = accepted_rows(again).select(SECOND_RATINGS)
    parts = {name: [working, again] if name == "drains" else [working] for name, working in checked.items()}
    held_back: Counter[str] = Counter()

    def pieces() -> Iterator[pl.DataFrame]:
        for name, workings in parts.items():
            for piece in held_back_pieces(workings, tables[name], piece_rows=processing.piece_rows):
                held_back[name] += piece.height
                yield piece

    held, held_file = gathered(pieces(), processing.held_back_in_memory)
    remarks = pl.concat([remarks_of(working) for working in (*checked.values(), again)])
    accepted: dict[str, pl.DataFrame] = {}
    legible: dict[str, pl.DataFrame] = {}
    accounts: list[TableAccount] = []
    for name, workings in parts.items():
        kept = workings[0].typed.height - workings[0].held_back_rows.len()
        kept += second.height if name == "drains" else 0
        accounts.append(account(tables[name], workings, accepted=kept, held_back=held_back[name]))
        legible[name] = legible_parts(workings[0])
        del checked[name]
        accepted[name] = accepted_table(name, accepted_rows(workings.pop(0)), settings=settings)
    return Log(accepted, held, remarks, tuple(accounts), legible, second, as_of, held_back_file=held_file)


def _checked_tables(
    tables: Mapping[str, SourceTable], settings: Settings, as_of: date
) -> tuple[dict[str, WorkingTable], WorkingTable]:
    """Every table cleaned and judged row by row, and the second ratings of drains."""
    ordered = [name for name in TABLES if name in tables]
    typed = {name: typed_table(tables[name], settings, as_of=as_of) for name in ordered}
    keyed = with_unit_keys(with_one_spelling(typed))
    drains, again = split_second_ratings(keyed.pop("drains"))
    checked = {"drains": _checked(drains, settings, as_of)}
    checked |= {name: _checked(working, settings, as_of) for name, working in keyed.items()}
    if "measurements" in checked:
        drained = accepted_rows(checked["drains"])
        checked["measurements"] = with_part_clocks(checked["measurements"], drained)
    again = with_hard_limits(without_future_dates(again, "drained_on", as_of=as_of))
    return {name: checked[name] for name in ordered}, again


def check_alone(
    source: SourceTable, settings: Settings, as_of: date
) -> tuple[pl.DataFrame, pl.DataFrame, TableAccount]:
    """A side table without a log: accepted rows, rows held back, and the row accounting.

    Raises as `check_log` does.
    """
    name = source.table
    typed = with_one_spelling({name: typed_table(source, settings, as_of=as_of)})[name]
    working = _checked(typed, settings, as_of)
    rows, out = accepted_rows(working), pl.concat(list(held_back_pieces([working], source)))
    counted = account(source, [working], accepted=rows.height, held_back=out.height)
    return accepted_table(name, rows, settings=settings), out, counted


def _checked(working: WorkingTable, settings: Settings, as_of: date) -> WorkingTable:
    """The rules of one table, hard ones first, so that questions are asked about rows that stay."""
    if working.table == "drains":
        return with_settling_note(_checked_drains(working, as_of), settings.standard_settle_hours)
    if working.table == "usage":
        past = with_hard_limits(without_future_dates(working, "date", as_of=as_of))
        return with_limit_questions(with_missing_hours_questions(with_same_day_questions(past)))
    if working.table == "bookings":
        return with_missing_hours_questions(with_same_day_questions(with_hard_limits(working)))
    if working.table == "units":
        return with_hard_limits(without_repeats(working, ("unit_key",), what="unit"))
    if working.table == "oils":
        return with_hard_limits(without_repeats(working, ("oil_grade",), what="oil grade"))
    if working.table == "measurements":
        dated = with_measured_quantities(without_future_dates(working, "measured_on", as_of=as_of))
        same = ("unit_key", "measured_on", "quantity", "value")
        what = "unit, date, quantity and value"
        return with_hard_limits(without_repeats(dated, same, what=what, among=~dated.is_held_back))
    return with_hard_limits(working)


def _checked_drains(working: WorkingTable, as_of: date) -> WorkingTable:
    """The rules of drains. Hours from the meter come before the limits on hours, and after copies are out."""
    dated = without_future_dates(working, "drained_on", as_of=as_of)
    single = without_repeats(dated, ("unit_key", "drained_on", "oil_hours"), what="unit, date and hours")
    by_meter, no_hours = ("unit_key", "drained_on", "meter_hours"), pl.col("oil_hours").is_null()
    single = without_repeats(single, by_meter, what="unit, date and meter", among=no_hours)
    limited = with_hard_limits(with_meter_hours(single, as_of))
    return with_rating_questions(with_drain_questions(with_limit_questions(limited)))
