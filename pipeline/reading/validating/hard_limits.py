"""Hard limits: rows that their table's schema refuses are held back, with reasons in a technician's words."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache

import pandera.polars as pa
import polars as pl
from pandera.config import get_config_context

from draincurve.pipeline.processing import EVERY_LOG
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import EARLIEST_YEAR, LONGEST_UNIT_ID, SERVICE_KINDS, TABLES, Column
from draincurve.schemas.errors import ContractError
from draincurve.schemas.input_tables import INPUT_SCHEMAS, MOST_RETURNED, may_break

_FRAME_CHECKS: dict[str, tuple[str, str]] = {
    "returned": ("drained_ml", f"is over {MOST_RETURNED:g} times what was filled: correct the wrong one of the two"),
    "hours": ("oil_hours", "is empty: write the hours on the oil, or a meter reading"),
    "rated": (
        CHANNELS[0].rating,
        f"is empty: {' or '.join(f'a {channel.name}' for channel in CHANNELS)} rating is needed",
    ),
    "thins": ("kv100", "is not under kv40: every oil thins as it warms; swap the two, or correct one"),
    "rating_order": (CHANNELS[0].rating, "is no range: write the lower level first, such as 2-3"),
}

_FAILING = {"position": pl.UInt32, "column": pl.String, "check": pl.String}
_OTHER_SCALE = "is on a scale that is asked about: answer that question first, or write the rating as 1 to 5"


def with_hard_limits(working: WorkingTable) -> WorkingTable:
    """Holds back each row that its table's schema refuses, with every reason.

    A cell that could not be read at all is not also called empty. Raises ContractError if Pandera is switched off,
    or refuses the table as a whole, since then rows would be accepted unchecked.
    """
    _refuse_unchecked()
    piece = EVERY_LOG.piece_rows
    failures = []
    for start in range(0, working.parsed.height, piece):
        part = working.parsed.slice(start, piece)
        failing = failing_rows(working.table, part)
        # A table without its second ratings has gaps in `_row`, so a position in it is not a row.
        failures.append(failing.select(part["_row"].gather(failing["position"]), "column", "check"))
    if not failures:
        return working
    known = {column.name: column for column in TABLES[working.table]}
    unread = working.findings.filter(pl.col("kind") == "held back").select("row", "column")
    pieces = []
    for (column, check), rows in pl.concat(failures).group_by("column", "check", maintain_order=True):
        name, message = _reason(str(column), str(check), known=known)
        if _is_about_absence(str(check)):
            about = _explained_by(str(check), name)
            rows = rows.join(unread.filter(pl.col("column").is_in(about)), left_on="_row", right_on="row", how="anti")
        rows = rows.select("_row")
        if check == "rated":
            typed = _with_rating_cells(working, rows)
            pieces.append(working.about_rows(typed, name, kind="held back", message=_OTHER_SCALE))
            rows = rows.join(typed, on="_row", how="anti")
        pieces.append(working.about_rows(rows, name, kind="held back", message=message))
    return working.with_findings(*pieces)


def _with_rating_cells(working: WorkingTable, rows: pl.DataFrame) -> pl.DataFrame:
    """Those of the rows in which a level is typed, though it is not known what it means."""
    cells = [channel.rating for channel in CHANNELS if channel.rating in working.raw.columns]
    typed = pl.any_horizontal(pl.lit(False), *[pl.col(name).cast(pl.String).str.contains(r"\d") for name in cells])
    return rows.join(working.raw.filter(typed).select("_row"), on="_row", how="semi")


def without_future_dates(working: WorkingTable, column: str, *, as_of: date) -> WorkingTable:
    """Holds back rows dated after `as_of`."""
    late = working.parsed_where(pl.col(column) > as_of, "_row", pl.col(column).cast(pl.String).alias("_day"))
    message = pl.format(f"is in the future: {{}} is after {as_of.isoformat()}; correct the date", "_day")
    return working.with_findings(working.about_rows(late, column, kind="held back", message=message))


def failing_rows(table: str, parsed: pl.DataFrame) -> pl.DataFrame:
    """Columns position (in the given frame), column and check: one line for each failure."""
    broken = may_break(table, parsed)
    if not broken:
        return pl.DataFrame(schema=_FAILING)
    try:
        _schema(table, broken).validate(parsed, lazy=True)
    except pa.errors.SchemaErrors as faults:
        cases: pl.DataFrame = faults.failure_cases
        whole = cases.filter(pl.col("index").is_null())
        if whole.height:
            named = ", ".join(f"{column}: {check}" for column, check in whole.select("column", "check").iter_rows())
            raise ContractError(
                f"table {table} breaks its schema as a whole ({named}): a fault of the program"
            ) from faults
        return cases.select(
            pl.col("index").cast(pl.UInt32).alias("position"),
            pl.col("column").cast(pl.String),
            pl.col("check").cast(pl.String),
        ).sort("position", maintain_order=True)
    return pl.DataFrame(schema=_FAILING)


@lru_cache(maxsize=256)
def _schema(table: str, broken: frozenset[str]) -> pa.DataFrameSchema:
    """The part of a table's schema that a row may break."""
    schema = INPUT_SCHEMAS[table]
    columns = {name: column for name, column in schema.columns.items() if name in broken}
    return pa.DataFrameSchema(columns, checks=[check for check in schema.checks if check.name in broken])


def _refuse_unchecked() -> None:
    if not get_config_context().validation_enabled:
        raise ContractError("Pandera's checks are switched off: unset PANDERA_VALIDATION_ENABLED and run again")


def _is_about_absence(check: str) -> bool:
    return check == "not_nullable" or check in ("hours", "rated")


def _explained_by(check: str, name: str) -> list[str]:
    """Columns whose unreadable cell explains why a value is missing; "" is for a row that does not fit the header."""
    if check == "hours":
        return ["", "oil_hours", "meter_hours"]
    return ["", *(channel.rating for channel in CHANNELS)] if check == "rated" else ["", name]


def _reason(column: str, check: str, *, known: dict[str, Column]) -> tuple[str, str]:
    """The contract's name of a column, and why a value in it was refused."""
    if check in _FRAME_CHECKS:
        return _FRAME_CHECKS[check]
    name = re.sub(r"_(low|high)$", "_rating", column) if column not in known else column
    definition = known[name]
    if check == "not_nullable":
        return name, f"is empty: expected {definition.meaning}"
    if check.startswith("str_length"):
        return name, f"is longer than {LONGEST_UNIT_ID} characters: shorten the unit's label"
    if check.startswith("isin"):
        return name, f"is no kind of service: write {', '.join(SERVICE_KINDS[:-1])} or {SERVICE_KINDS[-1]}"
    if definition.kind == "date":
        return name, f"is before {EARLIEST_YEAR}: correct the year"
    return name, _limit_reason(check, definition)


def _limit_reason(check: str, definition: Column) -> str:
    """Which limit was passed, and what was expected."""
    unit = f" {definition.unit}" if definition.unit else ""
    low = f"{definition.low:g} or more" if definition.low_allowed else f"more than {definition.low:g}"
    expected = f"expected {low}{unit}"
    if definition.high is not None:
        expected = f"expected {low}, at most {definition.high:g}{unit}"
    if check.startswith("less_than"):
        return f"is over {definition.high:g}{unit}: {expected}"
    if definition.low_allowed and definition.low == 0:
        return f"is negative: {expected}"
    return f"is {'under' if definition.low_allowed else 'not over'} {definition.low:g}{unit}: {expected}"
