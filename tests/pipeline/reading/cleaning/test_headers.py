"""Headers as shops write them."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.header_synonyms import COLUMN_OF_HEADER
from draincurve.pipeline.reading.cleaning.headers import MatchedHeader, match_header, matched_table
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError

NEEDED = ("unit_id", "drained_on", "oil_hours", "oil_grade", "colour_rating", "spring_type", "rider")


def source(*headers: str, table: str = "drains") -> SourceTable:
    return SourceTable(table, "log.csv", "", pl.DataFrame({name: ["x"] for name in headers} | {"_line": [2]}))


@pytest.mark.parametrize(
    ("header", "column", "unit"),
    [
        ("UNIT ID", "unit_id", None),
        ("unit-id", "unit_id", None),
        ("Drained (cc)", "drained_ml", "cc"),
        ("ride time min", "oil_hours", "min"),
        ("Oil hours [h]", "oil_hours", "h"),
        ("Filled, fl oz", "filled_ml", "fl oz"),
        ("settle_min", "settle_hours", "min"),
        ("Colour (1-5)", "colour_rating", None),
        ("Color", "colour_rating", None),
        ("drained_ml", "drained_ml", None),
        ("air gap mm", "", None),
        ("Drained (mm)", "", None),
        ("oil hours (days)", "", None),
    ],
)
def test_case_punctuation_and_units(header: str, column: str, unit: str | None) -> None:
    match = match_header(header, "drains")
    assert (match.column if match else "", match.unit if match else None) == (column, unit)


def test_a_date_header_may_declare_the_order() -> None:
    assert match_header("Date (dd/mm/yyyy)", "drains") == MatchedHeader("drained_on", None, "day first", False)
    assert match_header("date [m/d/y]", "drains") == MatchedHeader("drained_on", None, "month first", False)


def test_every_contract_name_means_itself() -> None:
    for table, columns in TABLES.items():
        for column in columns:
            match = match_header(column.name, table)
            assert match is not None
            assert match.column == column.name
            assert match.exact
        assert set(COLUMN_OF_HEADER[table].values()) == {column.name for column in columns}


def test_two_headers_for_one_column_are_refused() -> None:
    with pytest.raises(SourceError, match=r"'fork', 'Leg' all mean unit_id"):
        matched_table(source("fork", "Leg", *NEEDED[1:]))


def test_the_contracts_own_word_wins_over_a_synonym_and_the_other_is_named() -> None:
    table = matched_table(source(*NEEDED, "oil"))
    assert "oil" not in table.frame.columns
    assert table.findings.filter(pl.col("value") == "oil")["kind"].to_list() == ["asked"]


@pytest.mark.parametrize("missing", NEEDED)
def test_a_missing_column_is_named_with_what_was_found(missing: str) -> None:
    headers = [name for name in NEEDED if name != missing]
    with pytest.raises(SourceError, match=rf"log.csv: table drains: column {missing}.* missing; found the headers '"):
        matched_table(source(*headers))


@pytest.mark.parametrize("table", ["usage", "bookings"])
def test_hours_may_be_blank_but_their_column_must_be_there(table: str) -> None:
    with pytest.raises(SourceError, match=f"table {table}: column hours missing"):
        matched_table(source("unit_id", "date", table=table))


def test_unknown_columns_are_named() -> None:
    table = matched_table(source(*NEEDED, "air gap mm"))
    assert "air gap mm" not in table.frame.columns
    assert table.findings["message"].to_list() == ["column 'air gap mm' is not known and is not used"]


def test_a_volume_header_without_unit_is_noted() -> None:
    messages = matched_table(source(*NEEDED, "filled")).findings["message"].to_list()
    assert messages == ["header 'filled' names no unit: cells without one are read as ml"]
