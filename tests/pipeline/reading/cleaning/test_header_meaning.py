"""What single headers mean, and which row of a grid is the header."""

import pytest

from draincurve.pipeline.reading.cleaning.foreign_headers import LANGUAGES
from draincurve.pipeline.reading.cleaning.header_meaning import (
    LONGEST_HEADER,
    MatchedHeader,
    header_columns,
    match_header,
    says_hours_and_minutes,
)
from draincurve.pipeline.reading.cleaning.header_synonyms import COLUMNS_OF_HEADER, synonyms
from draincurve.schemas.columns import TABLES
from draincurve.schemas.settings import Settings


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
        ("Std.", "oil_hours", None),
        ("Ölstunden", "oil_hours", None),
        ("Oelstunden", "oil_hours", None),
        ("h huile", "oil_hours", None),
        ("Heures d'huile", "oil_hours", None),
        ("HORAS ACEITE", "oil_hours", None),
        ("Ore olio", "oil_hours", None),
        ("Gabel-Nr.", "unit_id", None),
        ("N° fourche", "unit_id", None),
        ("Nº de horquilla", "unit_id", None),
        ("Forcella n.", "unit_id", None),
        ("Datum Ölwechsel", "drained_on", None),
        ("Date de la vidange", "drained_on", None),
        ("Fecha del cambio de aceite", "drained_on", None),
        ("Data del cambio olio", "drained_on", None),
        ("Zählerstand", "meter_hours", None),
        ("Füllmenge (ml)", "filled_ml", "ml"),
        ("Volume vidangé [cl]", "drained_ml", "cl"),
        ("Absetzzeit (Minuten)", "settle_hours", "Minuten"),
        ("Reposo, min", "settle_hours", "min"),
        ("Note couleur", "colour_rating", None),
        ("Späne", "debris_rating", None),
        ("Tipo de muelle", "spring_type", None),
        ("Pilota", "rider", None),
        ("Bewertet von", "rated_by", None),
        ("No leak", "", None),
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
    assert match_header("Datum (TT.MM.JJJJ)", "drains") == MatchedHeader("drained_on", None, "day first", False)
    assert match_header("Date (jj/mm/aaaa)", "drains") == MatchedHeader("drained_on", None, "day first", False)
    assert match_header("Data (gg/mm/aa)", "drains") == MatchedHeader("drained_on", None, "day first", False)
    assert match_header("Datum (JJJJ-MM-TT)", "drains") == MatchedHeader("drained_on", None, "year first", False)
    assert match_header("date [m/d/y]", "drains") == MatchedHeader("drained_on", None, "month first", False)


def test_every_contract_name_means_itself() -> None:
    for table, columns in TABLES.items():
        for column in columns:
            match = match_header(column.name, table)
            assert match is not None
            assert match.column == column.name
            assert match.exact
        named = {name for found in COLUMNS_OF_HEADER[table].values() for name in found}
        assert named == {column.name for column in columns}


def test_no_synonym_of_drains_means_two_columns() -> None:
    assert {key: names for key, names in COLUMNS_OF_HEADER["drains"].items() if len(names) > 1} == {}


@pytest.mark.parametrize("table", TABLES)
def test_every_synonym_is_found(table: str) -> None:
    for column, word in synonyms(table):
        match = match_header(word.upper(), table)
        assert match is not None
        assert column in match.columns or match.exact


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_column_of_drains_has_headers_in_every_language(language: dict[str, str]) -> None:
    assert {column.name for column in TABLES["drains"]} <= language.keys()


def test_the_settings_come_first_and_may_leave_the_unit_to_the_header() -> None:
    given = {"settle_hours": ["Ruhe"], "unit_id": ["Bein"]}
    assert match_header("BEIN", "drains", given) == MatchedHeader("unit_id", given=True)
    assert match_header("Ruhe (min)", "drains", given) == MatchedHeader("settle_hours", "min", given=True)
    assert match_header("Ruhe min", "drains", given) == MatchedHeader("settle_hours", "min", given=True)
    assert match_header("Ruhe", "usage", given) is None


def test_a_very_long_cell_is_no_header() -> None:
    assert match_header("unit" + " " * LONGEST_HEADER, "drains") is None


def test_the_cells_of_a_row_name_columns_as_the_settings_say() -> None:
    cells = ["Bein", "Datum", "", "Zeit am Öl", "Std. (min)"]
    columns = header_columns(Settings(headers={"unit_id": ("Bein",)}))(cells, "drains")
    assert columns == ["unit_id", "drained_on", None, None, "oil_hours"]


@pytest.mark.parametrize(
    "header",
    [
        "Minutes",
        "Betriebsminuten",
        "Ölminuten",
        "Oil minutes",
        "Run mins",
        "minutes huile",
        "minuti olio",
        "Minutos aceite",
    ],
)
def test_hours_in_minutes_by_their_header(header: str) -> None:
    match = match_header(header, "drains")
    assert match is not None
    assert (match.column, match.unit) == ("oil_hours", "min")


@pytest.mark.parametrize(
    ("header", "column"), [("Settling minutes", "settle_hours"), ("minutes of the meeting", None)]
)
def test_other_headers_with_minutes(header: str, column: str | None) -> None:
    match = match_header(header, "drains")
    assert (None if match is None else match.column) == column


@pytest.mark.parametrize(
    "header",
    [
        *(
            "Oil (new)",
            "Öl (neu)",
            "Huile (neuve)",
            "Colour (new oil)",
            "Debris (after)",
            "Date (next)",
            "Spring (new)",
        ),
        *("Hours (left)", "Hours (x10)", "Hours (1/10)", "Stunden (Zehntel)", "Hours (planned)", "Hours (max)"),
        *("Debris (mg)", "Metal (ppm)", "Particles (count)", "Colour %", "Colour (%)"),
    ],
)
def test_brackets_that_name_something_else(header: str) -> None:
    assert match_header(header, "drains") is None


@pytest.mark.parametrize(
    ("header", "columns"),
    [
        ("Hours (bike)", ("oil_hours", "meter_hours")),
        ("Stunden (Motor)", ("oil_hours", "meter_hours")),
        ("Std. (Feder)", ("spring_hours",)),
        ("Hours (oil)", ("oil_hours",)),
        ("Oil (drained)", ("oil_grade",)),
        ("Colour (1 = new, 5 = black)", ("colour_rating",)),
        ("Filled (new)", ("filled_ml",)),
        ("Spring rate (N/mm)", ("spring_type",)),
    ],
)
def test_brackets_that_say_on_what_or_explain(header: str, columns: tuple[str, ...]) -> None:
    match = match_header(header, "drains")
    assert match is not None
    assert match.columns == columns


@pytest.mark.parametrize(
    "header", ["Std/Min", "Hours (h:mm)", "Hours h:mm", "h:mm", "Stunden:Minuten", "Fahrzeit [hh:mm]"]
)
def test_hours_and_minutes_in_one_column(header: str) -> None:
    match = match_header(header, "drains")
    assert match is not None
    assert (match.column, match.unit in (None, "h", "Std", "Stunden")) == ("oil_hours", True)
    assert says_hours_and_minutes(header)


def test_other_headers_say_nothing_of_minutes() -> None:
    assert not any(map(says_hours_and_minutes, ("Hours", "Hours (min)", "Runtime min", "Gabel mm", "Oil h")))
