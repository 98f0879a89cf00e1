"""A small log in memory, and what validation makes of it."""

from collections.abc import Callable
from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.schemas.settings import Settings

ROW = {
    "unit_id": "F07",
    "drained_on": "2026-03-04",
    "oil_hours": "12",
    "oil_grade": "5W",
    "colour_rating": "2",
    "debris_rating": "3",
    "settle_hours": "0.2",
    "spring_type": "hard",
    "rider": "AB",
}
Row = dict[str, str | None]
Check = Callable[..., Log]


def source_table(table: str, rows: list[Row]) -> SourceTable:
    names = list(dict.fromkeys(name for row in rows for name in row))
    cells = {name: pl.Series([row.get(name) for row in rows], dtype=pl.String) for name in names}
    lines = pl.Series(range(2, len(rows) + 2), dtype=pl.Int64)
    return SourceTable(table, f"{table}.csv", "0" * 64, pl.DataFrame(cells | {"_line": lines}))


@pytest.fixture
def check() -> Check:
    """Checks drains given as changes to a good row (None leaves a cell empty), and other tables as they are.

    without : columns of the good row that the log does not have
    """

    def checked(
        *drains: Row, settings: Settings | None = None, without: tuple[str, ...] = (), **others: list[Row]
    ) -> Log:
        good = {name: cell for name, cell in ROW.items() if name not in without}
        tables = {"drains": source_table("drains", [good | row for row in drains])}
        tables |= {name: source_table(name, rows) for name, rows in others.items()}
        return check_log(tables, settings or Settings(), as_of=date(2026, 11, 25))

    return checked


@pytest.fixture
def messages() -> Callable[..., list[str]]:
    """Messages of remarks, of one column if it is given."""

    def of(log: Log, column: str | None = None) -> list[str]:
        remarks = log.remarks if column is None else log.remarks.filter(pl.col("column") == column)
        return remarks["message"].to_list()

    return of
