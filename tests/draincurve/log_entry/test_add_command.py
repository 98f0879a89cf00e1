"""`draincurve add` as the bench calls it."""

from __future__ import annotations

import re

import polars as pl
import pytest
from bench_logs import HEADER, csv_bytes, last_drain, write_log
from typer.testing import CliRunner

import draincurve.commands.add as add_command
from draincurve.cli import app
from draincurve.schemas.columns import DRAINS

DRAIN = (
    "--unit=F07", "--date=2026-06-19", "--hours=12.5", "--colour=3", "--debris=2", "--rider=Tevik",
    "--as-of=2026-06-20", "--grade=Fork 5", "--spring=Stepped 46",
)  # fmt: skip


def add(*words: str):
    return CliRunner().invoke(app, ["add", *words])


def test_it_adds_and_says_what_and_where(tmp_path):
    path = write_log(tmp_path, delimiter=";", decimal=",")
    ran = add(str(path), *DRAIN)
    assert ran.exit_code == 0
    assert ran.stdout == f"added to {path}, line 14: F07;2026-06-19;12,5;Fork 5;;3;2;Stepped 46;Tevik;\n"
    assert ran.stderr == ""
    assert last_drain(path)["oil_hours"] == 12.5


def test_a_name_that_is_new_is_written_and_said(tmp_path):
    path = write_log(tmp_path)
    ran = add(str(path), *DRAIN, "--rider", "Anne")
    assert ran.exit_code == 0
    assert ran.stderr == "question: rider = Anne: is new in this log; is it spelt right?\n"
    assert last_drain(path)["rider"] == "Anne"


def test_a_refusal_is_one_line_and_status_1(tmp_path):
    path = write_log(tmp_path)
    ran = add(str(path), *DRAIN, "--hours", "0")
    assert (ran.exit_code, ran.stdout) == (1, "")
    assert re.fullmatch(r"draincurve: not added: oil_hours = 0: .*\n", ran.stderr)
    assert path.read_bytes() == csv_bytes()


def test_a_question_comes_before_the_row_is_written(tmp_path):
    path = write_log(tmp_path)
    ran = add(str(path), *DRAIN, "--rider", "Tevick")
    assert (ran.exit_code, ran.stdout) == (1, "")
    assert re.fullmatch(
        r"draincurve: not added: rider = Tevick: are 'Tevick' and 'Tevik' one.* --yes .*\n", ran.stderr
    )
    assert path.read_bytes() == csv_bytes()


def test_hours_far_over_the_usual_are_not_written_unasked(tmp_path):
    path = tmp_path / "drains.csv"
    rows = [
        f"F07,2026-0{1 + number}-05,{hours},Fork 5,520,{2 + number % 3},{1 + number % 2},Stepped 46,Tevik,"
        for number, hours in enumerate((12, 10.5, 13, 9.5))
    ]
    path.write_text("\n".join([",".join(HEADER), *rows, ""]), encoding="utf-8")
    before = path.read_bytes()
    ran = add(str(path), *DRAIN, "--hours", "180")
    assert (ran.exit_code, ran.stdout) == (1, "")
    assert "not added: oil_hours = 180: " in ran.stderr
    assert path.read_bytes() == before
    assert add(str(path), *DRAIN, "--hours", "12").exit_code == 0


@pytest.mark.parametrize(("has_column", "written"), [(True, "yes"), (False, None)])
def test_a_drain_added_with_yes_is_confirmed_where_the_log_has_the_column(tmp_path, has_column, written):
    path = tmp_path / "drains.csv"
    header = [*HEADER, "confirmed"] if has_column else HEADER
    rows = [
        f"F07,2026-0{1 + number}-05,{hours},Fork 5,520,{2 + number % 3},{1 + number % 2},Stepped 46,Tevik,"
        + "," * has_column
        for number, hours in enumerate((12, 10.5, 13, 9.5))
    ]
    path.write_text("\n".join([",".join(header), *rows, ""]), encoding="utf-8")
    ran = add(str(path), *DRAIN, "--hours", "750", "--yes")
    assert ran.exit_code == 0
    assert "question: oil_hours = 750: hours look like minutes" in ran.stderr
    last = pl.read_csv(path, infer_schema=False).row(-1, named=True)
    assert (last["oil_hours"], last.get("confirmed")) == ("750", written)
    asked = CliRunner().invoke(app, ["check", str(path), "--as-of", "2026-06-20"]).output
    assert ("hours look like minutes" in asked) is not has_column


@pytest.mark.parametrize(("answer", "status", "rider"), [("y\n", 0, "Tevick"), ("n\n", 1, None)])
def test_on_a_terminal_it_asks(tmp_path, monkeypatch, answer, status, rider):
    path = write_log(tmp_path)
    monkeypatch.setattr(add_command, "_on_a_terminal", lambda: True)
    ran = CliRunner().invoke(app, ["add", str(path), *DRAIN, "--rider", "Tevick"], input=answer)
    assert ran.exit_code == status
    assert "Add the drain as it is?" in ran.stderr
    if rider is None:
        assert path.read_bytes() == csv_bytes()
    else:
        assert last_drain(path)["rider"] == rider


def test_with_yes_the_row_is_written_and_the_question_said(tmp_path):
    path = write_log(tmp_path)
    ran = add(str(path), *DRAIN, "--rider", "Tevick", "--yes")
    assert ran.exit_code == 0
    assert "question: rider = Tevick: are 'Tevick' and 'Tevik' one?" in ran.stderr
    assert last_drain(path)["rider"] == "Tevick"


def test_a_sign_that_means_inspect_is_said_at_once(tmp_path):
    ran = add(str(write_log(tmp_path, header=(*HEADER[:-1], "leak"))), *DRAIN, "--leak", "yes")
    assert ran.exit_code == 0
    assert "leak = yes: inspect now, whatever the interval" in ran.stderr


def test_every_column_has_an_option(tmp_path):
    options = {
        "unit": "F07", "date": "2026-06-19", "hours": "12.5", "meter": "100", "grade": "Fork 5", "filled": "520",
        "drained": "505", "settle": "0.5", "colour": "3", "debris": "2", "spring": "Stepped 46", "spring-hours": "40",
        "rider": "Tevik", "rated-by": "KB", "surface": "mud", "site": "truck", "machine": "bike 1",
        "chamber": "inner", "method": "poured", "kind": "rebuild", "new-parts": "seals", "note": "odd smell",
        "milky": "no", "burnt": "yes", "leak": "no", "confirmed": "no",
    }  # fmt: skip
    path = tmp_path / "drains.csv"
    ran = add(str(path), "--new", "--as-of=2026-06-20", *(f"--{name}={text}" for name, text in options.items()))
    assert ran.exit_code == 0, ran.stderr
    written = pl.read_csv(path, infer_schema=False).row(0, named=True)
    assert written == dict(zip([column.name for column in DRAINS], options.values(), strict=True))


def test_logs_that_are_not_added_to_say_what_to_do(tmp_path):
    workbook = tmp_path / "log.xlsx"
    workbook.write_bytes(b"PK\x03\x04")
    parquet = tmp_path / "log.parquet"
    pl.DataFrame({"unit_id": ["F07"]}).write_parquet(parquet)
    for log in (str(workbook), str(parquet), str(tmp_path / "gone.xlsx")):
        ran = add(log, *DRAIN, "--new")
        assert (ran.exit_code, len(ran.stderr.splitlines())) == (1, 1)
        assert "CSV" in ran.stderr
    for database in (f"sqlite:{tmp_path / 'x.db'}", "postgresql://bench@127.0.0.1:1/shop"):
        ran = add(f"{database}#SELECT * FROM drains", *DRAIN)
        assert "a query cannot be added to; name a table" in ran.stderr


def test_a_table_of_a_database(tmp_path):
    address = f"sqlite:{tmp_path / 'shop.db'}#drains"
    ran = add(address, *DRAIN, "--new")
    assert ran.exit_code == 0, ran.stderr
    assert f"added to {tmp_path / 'shop.db'}, table drains, row 1: unit_id = F07" in ran.stdout
    assert add(str(tmp_path / "shop.db"), *DRAIN, "--hours", "9", "--date", "2026-06-12").exit_code == 0
    assert CliRunner().invoke(app, ["check", address, "--as-of", "2026-06-20"]).exit_code == 0


@pytest.mark.parametrize("words", [[], ["--unit", "F07"]])
def test_too_little_to_be_a_drain(words, tmp_path):
    ran = add(str(write_log(tmp_path)), *words)
    assert (ran.exit_code, len(ran.stderr.splitlines())) == (1, 1)


def test_a_folder_that_is_not_there(tmp_path):
    ran = add(str(tmp_path / "gone" / "drains.csv"), *DRAIN, "--new")
    assert (ran.exit_code, len(ran.stderr.splitlines())) == (1, 1)
