"""Names with a question mark, errors of spreadsheets and names that became dates are not read in silence."""

import polars as pl
import pytest

from draincurve.schemas.settings import Settings

DAYS = [{"drained_on": f"2026-0{month}-04"} for month in range(1, 4)]


@pytest.mark.parametrize("unit", ["F07?", "F07 ??", "F07 (?)", "? F07"])
def test_a_unit_in_doubt_is_held_back(check, unit: str) -> None:
    log = check(*DAYS, {"unit_id": unit, "drained_on": "2026-04-04"})
    assert log.held_back.select("line", "column", "value").rows() == [(5, "unit_id", unit)]
    settled = Settings(words={"unit_id": {unit.casefold(): "F07"}})
    assert check(*DAYS, {"unit_id": unit, "drained_on": "2026-04-04"}, settings=settled).held_back_count == 0


@pytest.mark.parametrize(
    ("column", "name"), [("rider", "AB"), ("rated_by", "KB"), ("oil_grade", "5W"), ("spring_type", "hard")]
)
def test_any_other_name_in_doubt_is_an_assumption(check, column: str, name: str) -> None:
    log = check(*[day | {column: name} for day in DAYS], {column: f"{name}?", "drained_on": "2026-04-04"})
    assert log.held_back_count == 0
    assert log.assumed.select("line", "column", "message").rows() == [(5, column, f"'{name}?' is read as '{name}'")]
    assert set(log.accepted["drains"][column]) == {name}


def test_a_cell_without_a_name_is_empty(check) -> None:
    log = check(*DAYS, {"unit_id": "?", "drained_on": "2026-04-04"})
    assert log.reasons.filter(pl.col("column") == "unit_id")["message"].str.starts_with("is empty").all()


@pytest.mark.parametrize(
    "cell",
    ["#REF!", "#BEZUG!", "#VALEUR!", "#NV", "#N/D", "#NOM?", "#¿NOMBRE?", "=H9", "=VLOOKUP(A2;B:C)", "=Tab2!A3"],
)
@pytest.mark.parametrize("column", ["unit_id", "rider", "oil_grade", "spring_type"])
def test_an_error_of_a_spreadsheet_is_no_name(check, column: str, cell: str) -> None:
    log = check(*DAYS, {column: cell, "drained_on": "2026-04-04"})
    (held_back,) = log.held_back.iter_rows(named=True)
    assert (held_back["line"], held_back["column"].split(";")[0]) == (5, column)
    assert "of a spreadsheet" in held_back["reason"]


@pytest.mark.parametrize("cell", ["#12", "#7 left", "N12", "F=2", "#A", "=1"])
def test_a_number_sign_is_part_of_a_name(check, cell: str) -> None:
    assert check(*DAYS, {"unit_id": cell, "drained_on": "2026-04-04"}).held_back_count == 0


@pytest.mark.parametrize("cell", ["2026-02-01", "01. Feb", "2-Mai", "Feb-01", "2026-02-01 00:00:00"])
@pytest.mark.parametrize("column", ["unit_id", "oil_grade", "spring_type"])
def test_a_name_that_is_a_date_is_asked_about(check, column: str, cell: str) -> None:
    log = check(*DAYS, {column: cell, "drained_on": "2026-04-04"})
    assert [row for row in log.asked.select("column", "value").rows() if row[1] == cell] == [(column, cell)]
    assert "is a date" in log.asked.filter(pl.col("value") == cell)["message"][0]


@pytest.mark.parametrize("cell", ["5 Maker", "12 Jo", "Leg 3", "2026-A", "1-2", "10W"])
def test_other_names_with_a_number_are_no_dates(check, cell: str) -> None:
    log = check(*DAYS, {"unit_id": cell, "drained_on": "2026-04-04"})
    assert not log.asked["message"].str.contains("is a date").any()


def test_a_name_that_has_lost_a_letter_is_held_back_where_other_rows_have_it(check) -> None:
    names = ["Zoë Brask", "Zo\ufffd Brask", "T\ufffdvik", "T\ufffdvik"]
    log = check(*[{"rider": name, "drained_on": f"2026-03-0{day}"} for day, name in enumerate(names, 1)])
    assert log.reasons.select("line", "column", "proposal").rows() == [(3, "rider", "Zoë Brask")]


@pytest.mark.parametrize(
    "cell", ["unknown", "unbekannt", "as before", "wie vorher", "unchanged", "same as last time", "see note"]
)
@pytest.mark.parametrize("column", ["oil_grade", "spring_type", "rider"])
def test_words_that_name_nothing_are_no_names(check, column: str, cell: str) -> None:
    rows = [*DAYS, {column: cell, "drained_on": "2026-04-04"}]
    log = check(*rows)
    assert log.held_back.select("line", "column", "value").rows() == [(5, column, cell)]
    assert "write the name" in log.held_back["reason"].item()
    assert check(*rows, settings=Settings(words={column: {cell: cell}})).held_back_count == 0


def test_no_oil_is_no_oil_and_no_spring_may_be_air(check) -> None:
    rows = [{"oil_grade": "none", "drained_on": "2026-04-04"}, {"spring_type": "none", "drained_on": "2026-05-04"}]
    assert check(*DAYS, *rows).held_back["line"].to_list() == [5]


@pytest.mark.parametrize("cell", ["1.20E+05", "1,2E+05", "4E+11"])
@pytest.mark.parametrize("column", ["unit_id", "spring_type"])
def test_a_number_that_a_spreadsheet_shortened_is_no_name(check, column: str, cell: str) -> None:
    log = check(*DAYS, {column: cell, "drained_on": "2026-04-04"})
    assert log.held_back.select("line", "column", "value").rows() == [(5, column, cell)]
    kept = check(
        *DAYS, {column: "12E4", "drained_on": "2026-04-04"}, {column: "unknown 2", "drained_on": "2026-04-09"}
    )
    assert kept.held_back_count == 0
