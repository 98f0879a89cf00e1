"""The glossary is whole, and each table's schema holds what the glossary says."""

import math
from datetime import date

import polars as pl
import pytest
from pandera.errors import SchemaErrors

from draincurve.pipeline.reading.validating.hard_limits import failing_rows
from draincurve.schemas.columns import TABLES, Column, columns_in_words
from draincurve.schemas.input_tables import INPUT_SCHEMAS

NUMERIC = ("run hours", "settling time", "volume", "oil age", "viscosity")


def test_every_column_says_what_it_means_and_why_it_is_limited() -> None:
    for table, columns in TABLES.items():
        assert len({column.name for column in columns}) == len(columns), table
        for column in columns:
            assert column.meaning, column.name
            assert column.unit or column.kind not in NUMERIC, column.name
            limited = column.required or (column.low, column.high) != (None, None)
            assert column.why or not limited or column.kind == "viscosity", column.name


def test_every_schema_has_the_columns_of_the_glossary_with_their_meaning() -> None:
    for table, columns in TABLES.items():
        fields = INPUT_SCHEMAS[table].columns
        expected = {column.name for column in columns if column.kind != "rating"}
        assert {name for name in fields if not name.endswith(("_low", "_high"))} == expected
        for column in columns:
            if column.name in fields:
                assert fields[column.name].description == column.meaning
                assert fields[column.name].nullable != column.required


def empty_row(table: str) -> pl.DataFrame:
    """One row that passes: required cells filled, all else null."""
    fillers = {"str": "x", "date": "2026-03-04", "float": 1.0, "int": 2, "bool": True}
    cells = {}
    for name, field in INPUT_SCHEMAS[table].columns.items():
        kind = field.dtype.type
        filler = fillers[{pl.String: "str", pl.Date: "date", pl.Float64: "float", pl.Int64: "int"}.get(kind, "bool")]
        filler = "oil" if name == "service_kind" else filler
        needed = not field.nullable or name in ("oil_hours", "colour_low", "colour_high", "service_kind")
        series = pl.Series(name, [filler if needed else None])
        cells[name] = series.str.to_date() if kind == pl.Date and needed else series.cast(kind)
    return pl.DataFrame(cells)


LIMITED = [(table, column) for table, columns in TABLES.items() for column in columns if column.kind in NUMERIC]


@pytest.mark.parametrize(("table", "column"), LIMITED, ids=lambda part: part if isinstance(part, str) else part.name)
def test_numbers_at_and_over_the_limits(table: str, column: Column) -> None:
    row = empty_row(table)
    assert failing_rows(table, row).is_empty()

    def refused(value: float) -> bool:
        changed = row.with_columns(pl.lit(float(value)).alias(column.name))
        if column.name == "drained_ml":
            changed = changed.with_columns(filled_ml=pl.lit(5000.0))
        return column.name in failing_rows(table, changed)["column"].to_list()

    assert column.low == 0
    assert refused(-1e-9)
    assert refused(0.0) is not column.low_allowed
    if column.high is not None:
        assert refused(column.high * 1.001)
        assert not refused(column.high)


def test_failures_name_row_column_and_check() -> None:
    row = empty_row("drains")
    bad = row.with_columns(pl.lit(None, pl.String).alias("rider"), pl.lit(9, pl.Int64).alias("colour_high"))
    failures = failing_rows("drains", pl.concat([row, bad, row]))
    assert failures["position"].unique().to_list() == [1]
    assert set(failures["column"]) == {"rider", "colour_high"}


def rows_at_every_limit(table: str) -> pl.DataFrame:
    """A row that passes, and rows that differ from it in one cell: empty, at a limit, past one, no number."""
    row = empty_row(table)
    values: dict[type, list] = {
        pl.String: [None, "", "x" * 64, "x" * 65, "rebuild"],
        pl.Date: [None, date(1969, 12, 31), date(1970, 1, 1)],
        pl.Float64: [None, math.nan, math.inf, -1.0, 0.0, 1.25, 1.3, 2000.0, 2001.0, 36601.0],
        pl.Int64: [None, 0, 1, 5, 6],
        pl.Boolean: [None],
    }
    changed = [
        row.with_columns(pl.lit(value, field.dtype.type).alias(name))
        for name, field in INPUT_SCHEMAS[table].columns.items()
        for value in values[field.dtype.type]
    ]
    return pl.concat([row, *changed])


@pytest.mark.parametrize("table", TABLES)
def test_pandera_by_itself_refuses_the_same_rows(table: str) -> None:
    rows = rows_at_every_limit(table)
    with pytest.raises(SchemaErrors) as faults:
        INPUT_SCHEMAS[table].validate(rows, lazy=True)
    refused = {case[:3] for case in faults.value.failure_cases.select("index", "column", "check").iter_rows()}
    assert len({position for position, *_ in refused}) > len(INPUT_SCHEMAS[table].columns) // 4
    found = {
        (position, *case)
        for position in range(rows.height)
        for case in failing_rows(table, rows[position]).select("column", "check").iter_rows()
    }
    assert found == refused


def test_columns_are_named_in_words_and_other_names_are_left_alone() -> None:
    said = columns_in_words("line 3: drained_ml = 388: 'my_oil_hours' and oil_hours; race_team, unit_id F_01")
    assert said == "line 3: drained ml = 388: 'my_oil_hours' and oil hours; race_team, unit id F_01"
