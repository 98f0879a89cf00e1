"""A log as typed to a checked log: accepted rows, rows held back with reasons, questions, and the row accounting.

`check_log` parses every table (cleaning), applies its checks in order (table_checks.py), and splits its rows into
accepted and held back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.processing import EVERY_LOG, LogProcessing
from draincurve.pipeline.reading.cleaning.laboratory_samples import with_long_samples
from draincurve.pipeline.reading.cleaning.marked_cells import with_marks_of_held_back, with_values_in_doubt
from draincurve.pipeline.reading.cleaning.names_of_no_unit import with_no_units_held_back
from draincurve.pipeline.reading.cleaning.row_kinds import NO_ROWS
from draincurve.pipeline.reading.cleaning.safety_words import INSPECT_NOW
from draincurve.pipeline.reading.cleaning.shifted_rows import with_shifted_rows_held_back
from draincurve.pipeline.reading.cleaning.spellings import with_one_spelling
from draincurve.pipeline.reading.cleaning.table_parsing import parsed_table
from draincurve.pipeline.reading.cleaning.unit_keys import with_unit_keys
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.sources.steady_file import GROWING
from draincurve.pipeline.reading.validating.accepted_tables import accepted_rows, accepted_table, legible_parts
from draincurve.pipeline.reading.validating.accounting import (
    TableAccount,
    account,
    held_back_pieces,
    reasons_of,
    remarks_of,
)
from draincurve.pipeline.reading.validating.assumptions import with_assumed_cells
from draincurve.pipeline.reading.validating.common_findings import CommonFinding, common_findings
from draincurve.pipeline.reading.validating.hard_limits import with_hard_limits, without_future_dates
from draincurve.pipeline.reading.validating.held_back_file import HeldBackFile, gathered
from draincurve.pipeline.reading.validating.part_clocks import with_part_clocks
from draincurve.pipeline.reading.validating.part_fittings import with_part_fittings
from draincurve.pipeline.reading.validating.people_questions import with_people_questions
from draincurve.pipeline.reading.validating.questions import without_confirmed
from draincurve.pipeline.reading.validating.rater_scales import with_scales_of_raters
from draincurve.pipeline.reading.validating.rating_scale import with_scales_turned
from draincurve.pipeline.reading.validating.repeated_rows import split_second_ratings
from draincurve.pipeline.reading.validating.scale_ends import with_scale_ends
from draincurve.pipeline.reading.validating.scale_headers import with_scales_of_headers
from draincurve.pipeline.reading.validating.sorted_ratings import without_sorted_ratings
from draincurve.pipeline.reading.validating.table_checks import checked_table
from draincurve.pipeline.reading.validating.unknown_units import with_unknown_units
from draincurve.pipeline.reading.validating.zero_scale import with_scales_from_zero
from draincurve.schemas.channels import level_columns
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError
from draincurve.schemas.service_kinds import is_top_up
from draincurve.schemas.settings import Settings

SECOND_RATING_COLUMNS = (
    *("unit_key", "unit_id", "drained_on"),
    *level_columns(),
    *("rated_by", "drain_source", "drain_line", "source", "line"),
)


class AcceptedDrains(NamedTuple):
    """How many of the accepted rows of drains are drains, further ratings of one, and top-ups."""

    drains: int
    second_ratings: int
    top_ups: int


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Log:
    """A log as it was read and checked.

    accepted : parsed rows of each table, by its name (columns in accepted_tables.COLUMNS)
    held_back : columns as accounting.HELD_BACK_SCHEMA; one line for each row held back, or only the first ones where
        there are very many
    remarks : columns as accounting.REMARKS_SCHEMA (line null for the whole file), kind "asked" or "note"; proposal
        and setting as in working_table.FINDINGS_SCHEMA
    reasons : the same columns, kind "held back"; one line for each reason of `held_back`, cell by cell
    common_reasons : the kinds of all reasons but of lines that are no rows, the commonest first
    accounts : read = accepted + held back, for each table
    legible : parsed cells of rows held back, by table; they are no evidence, but a sign, a limit or a ride in them
        still counts on the safe side (see describing.held_back_facts)
    second_ratings : further ratings of accepted drains by other people (SECOND_RATING_COLUMNS; drain_source and
        drain_line say where the drain is); counted as accepted rows of drains
    as_of : day the answers are for
    name : of the log, as the report shows it
    held_back_file : all rows held back where they are very many, else None
    similar_names : pairs of names that may be one, until somebody says, by column
    people_in_one_cell : riders and raters that a cell names, where it names several, by column and cell
    """

    accepted: dict[str, pl.DataFrame]
    held_back: pl.DataFrame
    remarks: pl.DataFrame
    reasons: pl.DataFrame
    common_reasons: tuple[CommonFinding, ...]
    accounts: tuple[TableAccount, ...]
    legible: dict[str, pl.DataFrame]
    second_ratings: pl.DataFrame
    as_of: date
    name: str = ""
    held_back_file: HeldBackFile | None = None
    similar_names: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    people_in_one_cell: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)

    @property
    def accepted_drains(self) -> AcceptedDrains:
        """What the accepted rows of drains count as."""
        top_ups = self.accepted["drains"].filter(is_top_up()).height
        return AcceptedDrains(self.accepted["drains"].height - top_ups, self.second_ratings.height, top_ups)

    @property
    def held_back_count(self) -> int:
        """How many rows were held back."""
        return self.held_back.height if self.held_back_file is None else self.held_back_file.height

    @property
    def faulty_count(self) -> int:
        """How many rows were held back, not counting totals, titles and repeated headers, which are no rows."""
        return self.held_back_count - sum(account.no_rows for account in self.accounts)

    @property
    def asked(self) -> pl.DataFrame:
        """The questions among the remarks."""
        return self.remarks.filter(pl.col("kind") == "asked")

    @property
    def stated_signs(self) -> pl.DataFrame:
        """Those among what is asked that state a sign to inspect for, which leaves nothing to answer."""
        return self.asked.filter(pl.col("message").str.contains(INSPECT_NOW, literal=True))

    @property
    def asked_rows(self) -> int:
        """How many rows are asked about."""
        return self.asked.drop_nulls("line").select("source", "line").n_unique()

    @property
    def assumed(self) -> pl.DataFrame:
        """The notes on cells that were read by an assumption, with `cells`, how many cells each is about."""
        return with_assumed_cells(self.remarks)

    @property
    def notes(self) -> pl.DataFrame:
        """The notes among the remarks that are about a whole file."""
        return self.remarks.filter((pl.col("kind") == "note") & pl.col("line").is_null())

    @property
    def grown(self) -> tuple[str, ...]:
        """A sentence for each file that somebody wrote to while it was read."""
        grown = self.notes.filter(pl.col("message") == GROWING)
        return tuple(f"{source} {GROWING}." for source in grown["source"])


def check_log(
    tables: Mapping[str, SourceTable], settings: Settings, *, as_of: date, processing: LogProcessing = EVERY_LOG
) -> Log:
    """Cleans and checks every table of a log.

    Raises SourceError for what is wrong with a table as a whole (headers, no table of drains), and ContractError if
    the row accounting does not hold. A bad row raises nothing: it is held back with all its reasons.
    """
    unknown = sorted(set(tables) - set(TABLES))
    if unknown or "drains" not in tables:
        raise SourceError(f"expected a table of drains and perhaps {', '.join(TABLES)}; got {', '.join(tables)}")
    tables = {name: with_long_samples(table, settings) for name, table in tables.items()}
    checked, second = _checked_tables(tables, settings, as_of=as_of)
    second_ratings = accepted_rows(second).select(SECOND_RATING_COLUMNS)
    parts = {name: [working, second] if name == "drains" else [working] for name, working in checked.items()}
    held_back: Counter[str] = Counter()

    def pieces() -> Iterator[pl.DataFrame]:
        for name, workings in parts.items():
            for piece in held_back_pieces(workings, tables[name], piece_rows=processing.piece_rows):
                held_back[name] += piece.height
                yield piece

    shown, file = gathered(pieces(), processing.held_back_in_memory)
    similar_names, people = checked["drains"].similar_pairs, checked["drains"].people_in_one_cell
    remarks = pl.concat([remarks_of(working) for working in (*checked.values(), second)])
    reasons = pl.concat([reasons_of(working) for working in (*checked.values(), second)])
    common = common_findings(reasons.filter(~pl.col("message").is_in(NO_ROWS)))
    if file is not None:
        reasons = reasons.join(shown, on=["source", "line"], how="semi", maintain_order="left")
    accepted: dict[str, pl.DataFrame] = {}
    legible: dict[str, pl.DataFrame] = {}
    accounts: list[TableAccount] = []
    for name, workings in parts.items():
        kept = workings[0].parsed.height - workings[0].held_back_rows.len()
        kept += second_ratings.height if name == "drains" else 0
        accounts.append(account(tables[name], workings, accepted=kept, held_back=held_back[name]))
        legible[name] = legible_parts(workings[0])
        del checked[name]  # with the table in `workings`, so that its memory is free for the next one
        accepted[name] = accepted_table(name, accepted_rows(workings.pop(0)), settings=settings)
    return Log(
        accepted,
        shown,
        remarks,
        reasons,
        common,
        tuple(accounts),
        legible,
        second_ratings,
        as_of,
        held_back_file=file,
        similar_names=similar_names,
        people_in_one_cell=people,
    )


def check_alone(
    source: SourceTable, settings: Settings, *, as_of: date
) -> tuple[pl.DataFrame, pl.DataFrame, TableAccount]:
    """A side table without a log: accepted rows, rows held back, row accounting. Raises as `check_log` does."""
    name = source.table
    parsed = with_one_spelling({name: parsed_table(source, settings, as_of=as_of)}, settings)[name]
    working = checked_table(parsed, settings, as_of=as_of)
    rows, held_back = accepted_rows(working), pl.concat(list(held_back_pieces([working], source)))
    counted = account(source, [working], accepted=rows.height, held_back=held_back.height)
    return accepted_table(name, rows, settings=settings), held_back, counted


def _checked_tables(
    tables: Mapping[str, SourceTable], settings: Settings, *, as_of: date
) -> tuple[dict[str, WorkingTable], WorkingTable]:
    """Every table cleaned and checked, and the second ratings of drains."""
    names = [name for name in TABLES if name in tables]
    working = with_unit_keys(
        with_one_spelling({name: parsed_table(tables[name], settings, as_of=as_of) for name in names}, settings)
    )
    working["drains"] = with_no_units_held_back(with_shifted_rows_held_back(working["drains"], settings), settings)
    drains = with_scales_turned(with_scales_of_headers(working["drains"], settings), settings.clean_end)
    drains = with_scale_ends(with_scales_from_zero(drains, settings), settings)
    working["drains"] = without_sorted_ratings(with_scales_of_raters(drains, settings))
    working = {name: with_values_in_doubt(table) for name, table in working.items()}
    working["drains"], second = split_second_ratings(working["drains"], settings.reference_rater)
    second = without_confirmed(with_people_questions(second))
    second = with_hard_limits(without_future_dates(second, "drained_on", as_of=as_of))
    checked = {
        name: with_marks_of_held_back(checked_table(working.pop(name), settings, as_of=as_of)) for name in names
    }
    if "measurements" in checked:
        register = accepted_rows(checked["units"])["unit_key"] if "units" in checked else None
        checked["measurements"] = with_part_clocks(
            checked["measurements"], accepted_rows(checked["drains"]), settings.laboratory, register=register
        )
    if "parts" in checked:
        checked["parts"], checked["drains"] = with_part_fittings(checked["parts"], checked["drains"])
    return with_unknown_units(checked), second
