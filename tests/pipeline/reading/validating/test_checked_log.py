"""From files to accepted rows, rows held back, remarks and the accounting."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest
from pandera.config import config_context

from draincurve.pipeline.reading.sources import SourceTable, read_table
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.accepted_tables import COLUMNS
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.schemas.errors import ContractError, SourceError
from draincurve.schemas.settings import Settings

TODAY = date(2026, 11, 25)
HEADER = (
    "Fork;Date;Ride time (min);Oil;Filled (cc);Drained (cc);Settle (min);Color;Metal;Spring;Rider;Rater;Leak;Note"
)
GOOD = "F07;13/04/2026;750;5W;480;470;10;2;2-3;hard;AB;XY;;"


def write(folder: Path, *lines: str, header: str = HEADER) -> Path:
    path = folder / "log.csv"
    path.write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
    return path


def checked(path: Path, settings: Settings | None = None) -> Log:
    return check_log(read_log(path), settings or Settings(), as_of=TODAY)


def test_rows_held_back_and_asked_about_name_unit_and_day_as_read_or_typed(check) -> None:
    log = check(
        {"unit_id": "f07", "oil_hours": "-2"},
        {"drained_on": "32.13.2026"},
        {"unit_id": None},
        {"drained_on": "4.5.2026", "oil_hours": "250"},
        usage=[{"unit_id": "F07", "date": "2026-05-05", "hours": "-3"}],
        oils=[{"oil_grade": "5W", "kv40": "x"}],
    )
    assert log.held_back.select("table", "line", "unit_id", "day").rows() == [
        ("drains", 2, "F07", "2026-03-04"),
        ("drains", 3, "F07", "32.13.2026"),
        ("drains", 4, None, "2026-03-04"),
        ("usage", 2, "F07", "2026-05-05"),
        ("oils", 2, None, None),
    ]
    assert log.reasons.select("unit_id", "day").rows()[:2] == [("F07", "2026-03-04"), ("F07", "32.13.2026")]
    asked = log.asked.filter(pl.col("column") == "oil_hours")
    assert asked.select("line", "unit_id", "day").rows() == [(5, "F07", "2026-05-04")]


def test_a_good_row_is_accepted_typed(tmp_path: Path) -> None:
    log = checked(write(tmp_path, GOOD))
    assert log.held_back.is_empty()
    assert log.accepted["drains"].columns == list(COLUMNS["drains"])
    assert log.accepted["drains"].row(0, named=True) == {
        "unit_key": "F07",
        "unit_id": "F07",
        "drained_on": date(2026, 4, 13),
        "oil_hours": 12.5,
        "hours_basis": "typed",
        "colour_in_question": False,
        "debris_in_question": False,
        "hours_in_question": False,
        "cautious_hours": None,
        "meter_hours": None,
        "oil_grade": "5W",
        "filled_ml": 480.0,
        "drained_ml": 470.0,
        "volumes_in_question": False,
        "return_in_question": False,
        "spring_in_question": False,
        "settle_hours": pytest.approx(1 / 6),
        "settle_assumed": False,
        "colour_low": 2,
        "colour_high": 2,
        "debris_low": 2,
        "debris_high": 3,
        "spring_type": "hard",
        "spring_hours": None,
        "rider": "AB",
        "rated_by": "XY",
        "people_in_question": False,
        "surface": None,
        "site": None,
        "machine": None,
        "chamber": None,
        "drain_method": None,
        "service_kind": "oil",
        "new_parts": None,
        "note": None,
        "milky": None,
        "burnt": None,
        "leak": None,
        "warned": None,
        "signs_in_question": None,
        "confirmed": None,
        "source": "log.csv",
        "line": 2,
    }


LIMITS = [
    (";13/04/2026;750;5W;;;;2;;hard;AB;;;", "unit_id", "", "is empty"),
    ("X" * 65 + ";13/04/2026;750;5W;;;;2;;hard;AB;;;", "unit_id", "X" * 65, "longer than 64"),
    ("F07;;750;5W;;;;2;;hard;AB;;;", "drained_on", "", "is empty"),
    ("F07;13/04/2027;750;5W;;;;2;;hard;AB;;;", "drained_on", "13/04/2027", "in the future"),
    ("F07;31/12/1969;750;5W;;;;2;;hard;AB;;;", "drained_on", "31/12/1969", "before 1970"),
    ("F07;13/04/2026;;5W;;;;2;;hard;AB;;;", "oil_hours", "", "or a meter reading"),
    ("F07;13/04/2026;0;5W;;;;2;;hard;AB;;;", "oil_hours", "0", "is not over 0 h"),
    ("F07;13/04/2026;2001 h;5W;;;;2;;hard;AB;;;", "oil_hours", "2001 h", "is over 2000 h"),
    ("F07;13/04/2026;750;;;;;2;;hard;AB;;;", "oil_grade", "", "is empty"),
    ("F07;13/04/2026;750;5W;5001;;;2;;hard;AB;;;", "filled_ml", "5001", "is over 5000 ml"),
    ("F07;13/04/2026;750;5W;110 mm;;;2;;hard;AB;;;", "filled_ml", "110 mm", "is not a volume"),
    ("F07;13/04/2026;750;5W;400;501;;2;;hard;AB;;;", "drained_ml", "501", "over 1.25 times"),
    ("F07;13/04/2026;750;5W;;;-1;2;;hard;AB;;;", "settle_hours", "-1", "is negative"),
    ("F07;13/04/2026;750;5W;;;91 days;2;;hard;AB;;;", "settle_hours", "91 days", "is over 2160 h"),
    ("F07;13/04/2026;750;5W;;;;0;;hard;AB;;;", "colour_rating", "0", "not clean"),
    ("F07;13/04/2026;750;5W;;;;;;hard;AB;;;", "colour_rating", "", "a colour or a debris rating is needed"),
    ("F07;13/04/2026;750;5W;;;;2;;;AB;;;", "spring_type", "", "is empty"),
    ("F07;13/04/2026;750;5W;;;;2;;hard;;;;", "rider", "", "is empty"),
    ("F07;13/04/2026;750;5W;;;;2;;hard;AB;;see note;", "leak", "see note", "neither yes nor no"),
]
"""A row as typed, and the column, the value and the reason for which it is held back."""


@pytest.fixture(scope="module")
def past_limits(tmp_path_factory: pytest.TempPathFactory) -> Log:
    """A good row and each of these, all of different units."""
    rows = [row.replace("F07", f"F{20 + at}", 1) for at, (row, *_) in enumerate(LIMITS)]
    return checked(write(tmp_path_factory.mktemp("limits"), GOOD, *rows))


@pytest.mark.parametrize("at", range(len(LIMITS)))
def test_each_hard_limit_holds_its_row_back(past_limits: Log, at: int) -> None:
    _, column, value, reason = LIMITS[at]
    held = past_limits.held_back.row(at, named=True)
    assert past_limits.held_back.height == len(LIMITS)
    assert past_limits.accepted["drains"]["unit_id"].to_list() == ["F07"]
    assert (held["source"], held["line"], held["column"], held["value"]) == ("log.csv", 3 + at, column, value)
    assert reason in held["reason"]
    assert held["row"].startswith('{"Fork":')


def test_all_reasons_of_a_row_stand_in_one_line(tmp_path: Path) -> None:
    log = checked(write(tmp_path, GOOD, "F07;32/04/2026;abc;5W;;;;6;2.5.1;;AB;;see note;"))
    held = log.held_back.row(0, named=True)
    assert held["column"].split("; ") == [
        "drained_on",
        "oil_hours",
        "colour_rating",
        "debris_rating",
        "leak",
        "spring_type",
    ]
    assert held["value"].split("; ") == ["32/04/2026", "abc", "6", "2.5.1", "see note", ""]


def test_a_cell_that_cannot_be_read_is_not_also_called_empty(tmp_path: Path) -> None:
    log = checked(write(tmp_path, "F07;13/04/2026;abc;5W;;;;grey;grey;hard;AB;;;"))
    assert "is empty" not in log.held_back["reason"][0]


def test_a_row_that_does_not_fit_the_header_is_held_back_as_it_came(tmp_path: Path) -> None:
    log = checked(write(tmp_path, GOOD, GOOD + ";;more", "F08;13/04/2026"))
    assert log.accounts[0].accepted == 1
    assert log.held_back["line"].to_list() == [3, 4]
    assert '"cells past the header":" | more"' in log.held_back["row"][0] or "more" in log.held_back["row"][0]
    assert log.held_back["reason"][1] == "the row has 2 cells, the header has 14: a cell is missing"


def test_accounts_add_up_and_carry_the_digest(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD, "", "F08;;;", "F08;13/05/2026;600;5W;;;;9;;hard;AB;;;")
    (account,) = checked(path).accounts
    assert (account.table, account.source) == ("drains", "log.csv")
    assert (account.read, account.accepted, account.held_back) == (3, 1, 2)
    assert account.sha256 == read_log(path)["drains"].sha256


def test_remarks_of_rows_held_back_are_not_shown(tmp_path: Path) -> None:
    log = checked(write(tmp_path, GOOD, "F08;13/05/2026;~600;5W;;;;9;;hard;AB;;no;"))
    assert log.remarks.filter(pl.col("line") == 3).is_empty()


def test_the_shops_settling_standard_is_filled_in_and_said(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD.replace(";10;", ";;"))
    row = checked(path, Settings(standard_settle_hours=1.0)).accepted["drains"].row(0, named=True)
    assert (row["settle_hours"], row["settle_assumed"]) == (1.0, True)


def test_a_top_up_needs_neither_rating_nor_hours(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD + ";oil", "F07;14/04/2026;;5W;;;;;;hard;AB;;;;top up", header=HEADER + ";Kind")
    assert checked(path).accepted["drains"]["service_kind"].to_list() == ["oil", "top-up"]


def test_side_tables(tmp_path: Path) -> None:
    tables = read_log(write(tmp_path, GOOD))
    contents = {
        "units": "unit,max interval (min),max oil age (weeks),in use\nF07,1200,26,\nf-07 b,,,no\n",
        "usage": "unit,day,ride time min\nF07,2026-05-01,90\nF07,2027-05-01,90\nF07,2026-05-02,\nF07,2026-05-03,0\n",
        "bookings": "unit,date,hours,event\nF07,2027-01-01,3,spring race\nF07,2027-02-01,0,nothing\n",
        "oils": "oil,kv40,kv100 (cSt)\n5w,15.1,3.9\n10W,-1,\n",
        "measurements": "unit_id,measured_on,quantity,value,unit\nF07,2026-05-01,gap,0.12,mm\nF07,2026-05-01,x,,mm\n",
    }
    for name, content in contents.items():
        path = tmp_path / f"{name}.csv"
        path.write_text(content)
        tables[name] = read_table(path, name)
    log = check_log(tables, Settings(), as_of=TODAY)
    assert {account.table: (account.accepted, account.held_back) for account in log.accounts} == {
        "drains": (1, 0),
        "units": (2, 0),
        "usage": (3, 1),
        "bookings": (1, 1),
        "oils": (1, 1),
        "measurements": (1, 1),
    }
    assert all(log.accepted[name].columns == list(COLUMNS[name]) for name in log.accepted)
    units = log.accepted["units"].select("unit_key", "max_interval_h", "max_oil_days", "in_service")
    assert units.rows() == [("F07", 20.0, 182.0, True), ("f-07 b", None, None, False)]
    assert log.accepted["usage"]["hours"].to_list() == [1.5, None, 0.0]
    assert log.accepted["oils"]["oil_grade"].to_list() == ["5W"]
    assert log.accepted["measurements"].select("value", "unit").rows() == [(0.12, "mm")]


def test_an_empty_side_table_is_accepted(tmp_path: Path) -> None:
    tables = read_log(write(tmp_path, GOOD))
    path = tmp_path / "bookings.csv"
    path.write_text("unit,date,hours\n")
    log = check_log(tables | {"bookings": read_table(path, "bookings")}, Settings(), as_of=TODAY)
    assert log.accepted["bookings"].is_empty()


def test_every_row_held_back_is_an_answer(tmp_path: Path) -> None:
    log = checked(write(tmp_path, "F07;3/4/2026;750;5W;;;;2;;hard;AB;;;", "F07;5/6/2026;750;5W;;;;2;;hard;AB;;;"))
    assert log.accepted["drains"].is_empty()
    assert log.accounts[0].held_back == 2
    assert all("set date_order in the settings" in reason for reason in log.held_back["reason"])


def test_switched_off_checks_are_refused(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD)
    with config_context(validation_enabled=False), pytest.raises(ContractError, match="switched off"):
        checked(path)


def test_a_broken_accounting_is_a_fault_of_the_program(tmp_path: Path) -> None:
    table = read_log(write(tmp_path, GOOD, "F08" + GOOD[3:]))["drains"]
    twice = SourceTable("drains", "log.csv", "", table.frame.with_columns(pl.lit(2, pl.Int64).alias("_line")))
    with pytest.raises(ContractError, match="2 rows read"):
        check_log({"drains": twice}, Settings(), as_of=TODAY)


def test_a_log_without_drains_is_refused() -> None:
    with pytest.raises(SourceError, match="expected a table of drains"):
        check_log({}, Settings(), as_of=TODAY)


def test_the_settings_words_and_date_order_are_used(tmp_path: Path) -> None:
    path = write(tmp_path, "F07;3/4/2026;750;5W;;;;grey;;hard;AB;;;")
    log = checked(path, Settings(date_order="month first", rating_words={"colour": {"grey": "3-4"}}))
    row = log.accepted["drains"].row(0, named=True)
    assert (row["drained_on"], row["colour_low"], row["colour_high"]) == (date(2026, 3, 4), 3, 4)


def test_an_oil_thinner_than_water_is_asked_about(check) -> None:
    oils = [{"oil_grade": "5W", "kv40": "16", "kv100": "4"}, {"oil_grade": "7W", "kv40": "0.016", "kv100": "0.004"}]
    asked = check({}, oils=oils).asked.filter(source="oils.csv")
    assert asked.select("line", "column").rows() == [(3, "kv40"), (3, "kv100")]


def test_a_limit_of_the_register_is_the_makers_longest_interval(check) -> None:
    units = check({}, units=[{"unit_id": "F07", "limit h": "30"}]).accepted["units"]
    assert units["max_interval_h"].to_list() == [30.0]
