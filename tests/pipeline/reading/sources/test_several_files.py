"""Several files as one table: whose line is whose, different headers, what fits a pattern."""

import hashlib
from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.reading.sources import read_table, source_address
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

HEADER = "unit,date,hours,oil,colour,debris,spring,rider\n"
TODAY = date(2026, 11, 25)


@pytest.fixture
def logs(tmp_path):
    """A folder of logs, and the pattern that fits them."""

    def written(**files):
        for name, text in files.items():
            (tmp_path / f"{name}.csv").write_text(text)
        return source_address("m*.csv", tmp_path)

    return written


def row(unit="F1", day="2026-03-01", hours="10", **more):
    cells = {"colour": "2", "debris": "3", "rider": "AB"} | more
    return f"{unit},{day},{hours},Fork 5,{cells['colour']},{cells['debris']},Plain,{cells['rider']}\n"


def checked(address, **sides):
    tables = read_log(address) | {name: read_table(place, name) for name, place in sides.items()}
    return check_log(tables, Settings(), as_of=TODAY)


def test_every_row_keeps_its_own_file_and_line(logs):
    log = checked(logs(m2=HEADER + row("F2") + "\n" + row("F3", hours="0"), m1=HEADER + row("F1")))
    accepted = log.accepted["drains"].sort("source", "line")
    assert accepted.select("unit_id", "source", "line").rows() == [("F1", "m1.csv", 2), ("F2", "m2.csv", 2)]
    assert log.held_back.select("source", "line").rows() == [("m2.csv", 4)]
    (account,) = log.accounts
    assert (account.source, account.read, account.accepted, account.held_back) == ("m*.csv", 3, 2, 1)


def test_each_file_is_read_by_its_own_headers_units_marks_and_order_of_dates(logs):
    log = checked(
        logs(
            m1=HEADER + row("F1", "03/28/2026", "600 min"),
            m2="Unit;Drained on;Ride time min;Oil;Colour;Spring;Rider\nF2;28.03.2026;750,5;Fork 5;4;Plain;AB\n",
            m3="Unit,Drained on,oil_hours,Oil,Debris,Spring,Rider,settle min,odd\n"
            "F3,2026-03-28,1.234,Fork 5,1,Plain,AB,30,x\n",
        )
    )
    drains = log.accepted["drains"].sort("unit_id")
    assert log.held_back.is_empty()
    assert drains["drained_on"].unique().to_list() == [date(2026, 3, 28)]
    assert drains["oil_hours"].to_list() == pytest.approx([10.0, 750.5 / 60, 1.234])
    assert drains["colour_low"].to_list() == [2, 4, None]
    assert drains["debris_low"].to_list() == [3, None, 1]
    assert drains["settle_assumed"].to_list() == [True, True, False]
    said = log.remarks.filter(pl.col("value") == "odd")["message"].to_list()
    assert said == ["m3.csv: column 'odd' is not known and is not used"]


def test_a_remark_that_all_files_share_is_made_once(logs):
    odd = "odd," + HEADER
    log = checked(logs(m1=odd + "x," + row("F1"), m2=odd + "x," + row("F2"), m3=odd + "x," + row("F3")))
    assert log.remarks.filter(pl.col("value") == "odd").height == 1
    two = checked(logs(m3=HEADER + row("F3")))
    said = two.remarks.filter(pl.col("value") == "odd")["message"].to_list()
    assert said == ["m1.csv and 1 more: column 'odd' is not known and is not used"]


def test_rows_held_back_come_under_the_headers_of_their_own_file(logs):
    log = checked(
        logs(m1=HEADER + row("F1"), m2="Unit,Day,Hours,Oil,Colour,Spring,Rider\nF2,2026-03-01,0,Fork 5,4,Plain,AB\n")
    )
    assert log.held_back["row"].to_list() == [
        '{"Unit":"F2","Day":"2026-03-01","Hours":"0","Oil":"Fork 5","Colour":"4","Spring":"Plain","Rider":"AB"}'
    ]


def test_copies_and_contradictions_are_found_across_files(logs):
    log = checked(
        logs(
            m1=HEADER + row("F1") + row("F2"),
            m2=HEADER + row("F1") + row("F2", debris="4"),
            m3=HEADER + row("F2", debris="5"),
        )
    )
    differs = "has the same unit, date and hours as line {}, but differs: keep the right one"
    assert log.held_back.select("source", "line", "reason").rows() == [
        ("m1.csv", 3, differs.format("3 of m2.csv, 2 of m3.csv")),
        ("m2.csv", 2, "is a copy of line 2 of m1.csv: delete one of the two"),
        ("m2.csv", 3, differs.format("3 of m1.csv, 2 of m3.csv")),
        ("m3.csv", 2, differs.format("3 of m1.csv, 3 of m2.csv")),
    ]


def test_meters_run_on_from_file_to_file(logs):
    header = HEADER.replace("hours", "meter_hours")
    log = checked(logs(m1=header + row("F1", "2026-03-01", "100"), m2=header + row("F1", "2026-03-09", "112.5")))
    drains = log.accepted["drains"].sort("drained_on")
    assert drains["oil_hours"].to_list() == [None, 12.5]
    again = checked(logs(m3=header + row("F1", "2026-03-12", "112.5")))
    assert again.held_back["reason"].to_list() == [
        "shows no hours since the drain on line 2 of m2.csv: correct the reading"
    ]


def test_a_second_rating_in_another_file_knows_its_drain(logs):
    header = HEADER.replace("rider\n", "rider,rated_by\n")
    log = checked(logs(m1=header + row().strip() + ",KB\n", m2=header + row(debris="4").strip() + ",TW\n"))
    second = log.second_ratings.select("drain_source", "drain_line", "source", "line", "debris_low")
    assert second.rows() == [("m1.csv", 2, "m2.csv", 2, 4)]
    assert "rates the drain in line 2 of m1.csv a second time" in "".join(log.remarks["message"])


def test_side_tables_may_be_several_files_too(logs, tmp_path):
    address = logs(m1=HEADER + row("F1"))
    for month in (4, 5):
        (tmp_path / f"use{month}.csv").write_text(f"unit,date,hours\nF1,2026-0{month}-01,3\n")
    log = checked(address, usage=source_address("use*.csv", tmp_path))
    assert log.accepted["usage"].select("source", "line").rows() == [("use4.csv", 2), ("use5.csv", 2)]


def test_workbooks_of_a_pattern_give_all_their_sheets(tmp_path):
    from openpyxl import Workbook

    for month in (1, 2):
        book = Workbook()
        book.active.title = "drains"
        book.active.append(HEADER.strip().split(","))
        book.active.append(row(f"F{month}").strip().split(","))
        book.create_sheet("usage").append(["unit", "date", "hours"])
        book["usage"].append([f"F{month}", "2026-04-01", 2])
        book.save(tmp_path / f"m{month}.xlsx")
    log = checked(source_address("m*.xlsx", tmp_path))
    assert log.accepted["drains"]["source"].to_list() == ["m1.xlsx[drains]", "m2.xlsx[drains]"]
    assert log.accepted["usage"]["source"].to_list() == ["m1.xlsx[usage]", "m2.xlsx[usage]"]


def test_folders_that_the_pattern_leaves_open_are_part_of_the_name(tmp_path):
    for site in ("north", "south"):
        (tmp_path / site).mkdir()
        (tmp_path / site / "log.csv").write_text(HEADER + row(site))
    log = checked(source_address("*/log.csv", tmp_path))
    assert log.accepted["drains"]["source"].to_list() == ["north/log.csv", "south/log.csv"]
    deep = read_log(source_address("**/*.csv", tmp_path))["drains"]
    assert [part.source for part in deep.parts] == ["north/log.csv", "south/log.csv"]
    assert deep.source == "**/*.csv"


def test_hidden_files_and_folders_do_not_count(logs, tmp_path):
    address = logs(m1=HEADER + row())
    (tmp_path / ".m2.csv").write_text("left by an editor")
    (tmp_path / "m3.csv").mkdir()
    assert read_log(address)["drains"].frame.height == 1
    assert read_log(source_address("*", tmp_path))["drains"].frame.height == 1


def test_a_file_that_is_really_named_so_is_itself(tmp_path):
    (tmp_path / "log[1].csv").write_text(HEADER + row())
    table = read_log(source_address("log[1].csv", tmp_path))["drains"]
    assert (table.source, table.parts) == ("log[1].csv", ())


def test_files_without_rows_may_be_among_them_but_not_alone(logs):
    assert read_log(logs(m1=HEADER, m2=HEADER + row()))["drains"].frame.height == 1
    with pytest.raises(SourceError, match="no row below"):
        read_log(logs(m1=HEADER, m2=HEADER))


@pytest.mark.parametrize(
    ("pattern", "said"),
    [("2025-*.csv", "no file fits the pattern"), ("logs/*.csv", "there is no folder"), ("fold*", "only folders fit")],
)
def test_a_pattern_that_nothing_fits(tmp_path, pattern, said):
    (tmp_path / "folder").mkdir()
    with pytest.raises(SourceError, match=said):
        read_log(source_address(pattern, tmp_path))


def test_a_broken_file_is_named(logs):
    with pytest.raises(SourceError, match=r"m2.csv.*is empty"):
        read_log(logs(m1=HEADER + row(), m2=""))
    odd = HEADER.replace("oil,", "odd,") + row()
    log = checked(logs(m2=odd))
    assert log.accounts[0].held_back == 1
    assert log.held_back["source"].to_list() == ["m2.csv"]
    assert "the header is not understood" in log.held_back["reason"][0]
    with pytest.raises(SourceError, match=r"m1.csv: table drains: column oil_grade missing"):
        checked(logs(m1=odd))


def test_the_digest_knows_names_and_content(logs, tmp_path):
    address = logs(m1=HEADER + row("F1"), m2=HEADER + row("F2"))
    first = read_log(address)["drains"].sha256
    digests = [hashlib.sha256((tmp_path / f"m{n}.csv").read_bytes()).hexdigest() for n in (1, 2)]
    assert (
        first
        == hashlib.sha256(
            "\n".join(f"m{n}.csv {d}" for n, d in zip((1, 2), digests, strict=True)).encode()
        ).hexdigest()
    )
    logs(m2=HEADER + row("F3"))
    assert read_log(address)["drains"].sha256 != first


def test_one_file_of_a_pattern_says_what_the_file_alone_says(logs, tmp_path):
    text = HEADER + row("F1") + row("F2", hours="0") + row("F1")
    by_pattern, alone = checked(logs(m1=text)), checked(source_address("m1.csv", tmp_path))
    assert by_pattern.accepted["drains"].equals(alone.accepted["drains"])
    assert [*by_pattern.held_back["line"]] == [*alone.held_back["line"]]
    assert [a.read for a in by_pattern.accounts] == [a.read for a in alone.accounts]
