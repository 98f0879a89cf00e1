"""The tables of one run as CSV files: up to 3 decimals, ISO dates, and no cell that a spreadsheet would execute."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import IO

import polars as pl

from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading import HeldBackFile
from draincurve.schemas.fleet_intervals_table import checked_fleet_intervals
from draincurve.schemas.forecast_table import checked_forecast, empty_forecast
from draincurve.schemas.held_back_table import checked_held_back
from draincurve.schemas.next_service_table import checked_next_service
from draincurve.schemas.parts_table import checked_parts
from draincurve.schemas.spring_effects_table import checked_spring_effects

DECIMALS = 3

ACTIVE_START = r"^[\s\u00a0\ufeff]*[=+\-@\t\r\n|%\uff1d\uff0b\uff0d\uff20]"
PLAIN_NUMBER = r"^[+-]?\d+([.,]\d+)?$"
"""A negative number typed by hand begins like a formula but is not one."""


def result_tables(result: PlanResult) -> dict[str, pl.DataFrame]:
    """The tables of a run by name, each checked against its schema; raises ContractError where one breaks it."""
    return {
        "next_service": checked_next_service(result.decided.next_service, result.settings, result.as_of),
        "fleet_intervals": checked_fleet_intervals(result.decided.fleet_intervals, result.settings),
        "spring_effects": checked_spring_effects(result.judged.spring_effects),
        "forecast": checked_forecast(empty_forecast() if result.forecast is None else result.forecast.table),
        **({} if result.decided.parts is None else {"parts": checked_parts(result.decided.parts, result.as_of)}),
        "held_back": checked_held_back(result.log.held_back),
    }


def write_tables(result: PlanResult, folder: Path) -> Mapping[str, pl.DataFrame]:
    """Checks the tables against their schemas, then writes them into `folder`, without run.json; returns them.

    Where the report leaves units out, the next-service table is also written as Parquet, unrounded.

    Raises ContractError where a table breaks its schema.
    """
    tables = result_tables(result)
    for name, table in tables.items():
        if name != "held_back":
            write_table(table, folder / f"{name}.csv")
    write_held_back_table(tables["held_back"], result.log.held_back_file, path=folder / "held_back.csv")
    write_table(result.decided.inspect_now, folder / "inspect_now.csv")
    if result.described.processing.full_tables:
        tables["next_service"].write_parquet(folder / "next_service.parquet")
    return tables


def write_table(table: pl.DataFrame, path: Path) -> None:
    """Writes one CSV file: UTF-8, comma, ISO dates, at most 3 decimals, empty where a value is not known."""
    with path.open("wb") as file:
        _write_rows(table, file, with_headings=True)


def write_held_back_table(held_back: pl.DataFrame, all_rows: HeldBackFile | None, *, path: Path) -> None:
    """Writes held_back.csv, piece by piece where there are very many rows.

    held_back : the checked rows, or only the first of them if `all_rows` has all. Raises ContractError for a wrong
    piece of these.
    """
    pieces = [held_back] if all_rows is None else map(checked_held_back, all_rows.pieces())
    with path.open("wb") as file:
        for number, piece in enumerate(pieces):
            _write_rows(piece, file, with_headings=number == 0)


def _write_rows(table: pl.DataFrame, file: IO[bytes], *, with_headings: bool) -> None:
    as_written(table).write_csv(
        file,
        include_header=with_headings,
        line_terminator="\n",
        date_format="%Y-%m-%d",
        quote_style="necessary",
    )


def as_written(table: pl.DataFrame) -> pl.DataFrame:
    """The table with numbers rounded to 3 decimals, and text and headings that are safe in a spreadsheet.

    Text that begins like a formula gets an apostrophe in front, so that a spreadsheet shows it as typed. Source:
    OWASP, CSV Injection (the characters =, +, -, @, tab, carriage return). Their full-width forms, | and % are
    treated the same; plain numbers are not changed.
    """
    texts = [_safe_text(pl.col(name)) for name in table.columns if table[name].dtype == pl.String]
    safe = to_three_decimals(table).with_columns(*texts)
    return safe.rename({name: _safe_heading(name) for name in safe.columns})


def to_three_decimals(table: pl.DataFrame) -> pl.DataFrame:
    """The table with numbers rounded to 3 decimals, as CSV file and workbook show them."""
    return table.with_columns(_rounded(pl.col(name)) for name in table.columns if table[name].dtype.is_float())


def as_typed(cell: str) -> str:
    """A cell of a written table, without the apostrophe that made it safe."""
    return cell[1:] if cell.startswith("'") and begins_like_a_formula(cell[1:]) else cell


def written_rows(path: Path, needed: Iterable[str] = ()) -> Iterator[dict[str, str | None]]:
    """Rows of a table that was written here, as text; an empty cell is None. Raises KeyError for a missing column."""
    with path.open(encoding="utf-8", newline="") as file:
        csv.field_size_limit(2**31 - 1)
        reader = csv.DictReader(file)
        missing = set(needed) - set(reader.fieldnames or ())
        if missing:
            raise KeyError(f"{path.name} without {', '.join(sorted(missing))}")
        for row in reader:
            yield {name: as_typed(cell) if cell else None for name, cell in row.items()}


def _rounded(number: pl.Expr) -> pl.Expr:
    """At most 3 decimals, and no minus sign before 0."""
    short = number.round(DECIMALS)
    return pl.when(short == 0).then(0.0).otherwise(short).name.keep()


def _safe_text(text: pl.Expr) -> pl.Expr:
    """Text that no spreadsheet executes as a formula."""
    active = text.str.contains(ACTIVE_START) & ~text.str.contains(PLAIN_NUMBER)
    return pl.when(active).then(pl.lit("'") + text).otherwise(text).name.keep()


def _safe_heading(name: str) -> str:
    return f"'{name}" if begins_like_a_formula(name) else name


def begins_like_a_formula(text: str) -> bool:
    """Whether a spreadsheet would execute it."""
    return re.match(ACTIVE_START, text) is not None and re.match(PLAIN_NUMBER, text) is None
