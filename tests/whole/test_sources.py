"""One log from every kind of source: the same answers and accounting, and no password in any output."""

from __future__ import annotations

import csv
import json
import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote, quote_plus

import polars as pl
import pytest
from running_postgresql import PASSWORD
from small_logs import AS_OF, run_program, simple_log, write_rows
from typer.testing import CliRunner

from draincurve.cli import app

USAGE = [{"unit_id": f"U0{unit}", "date": f"2026-06-{day:02}", "hours": 1.5} for unit in (1, 2) for day in (12, 15)]
RESULTS = ("next_service.csv", "fleet_intervals.csv", "spring_effects.csv")


@pytest.fixture(scope="module")
def rows() -> list[dict]:
    """A log with a copy and an impossible row in it."""
    good = simple_log(3, 5)
    return [*good, dict(good[0]), good[1] | {"oil_hours": -1}]


@pytest.fixture(scope="module")
def csv_log(rows, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("csv")
    write_rows(folder / "drains.csv", rows)
    write_rows(folder / "usage.csv", USAGE)
    return folder


@pytest.fixture
def secret(monkeypatch) -> str:
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    return PASSWORD


@pytest.fixture
def server_log(postgresql_server, rows):
    """The address of a database with the log and the hours ridden, gone again afterwards."""
    columns = "drained_on date, oil_hours numeric, oil_grade text, colour_rating int, debris_rating int"
    script = f"CREATE TABLE drains (n serial PRIMARY KEY, unit_id text, {columns}, spring_type text, rider text);"
    for row in rows:
        cells = ", ".join(f"'{cell}'" for cell in row.values())
        script += f"INSERT INTO drains ({', '.join(row)}) VALUES ({cells});"
    script += "CREATE TABLE usage (unit_id text, date date, hours float8);"
    for row in USAGE:
        script += "INSERT INTO usage VALUES ('{unit_id}', '{date}', {hours});".format(**row)
    postgresql_server.run("CREATE DATABASE whole")
    postgresql_server.run(script, "whole")
    yield postgresql_server.address("whole")
    postgresql_server.run("DROP DATABASE whole WITH (FORCE)")


@pytest.fixture
def sqlite_log(csv_log, tmp_path) -> Path:
    path = tmp_path / "shop.db"
    with closing(sqlite3.connect(path)) as database:
        for name in ("drains", "usage"):
            with (csv_log / f"{name}.csv").open(newline="") as file:
                header, *cells = csv.reader(file)
            database.execute(f"CREATE TABLE {name} ({', '.join(header)})")
            database.executemany(f"INSERT INTO {name} VALUES ({', '.join('?' * len(header))})", cells)
        database.commit()
    return path


@pytest.fixture(scope="module")
def from_csv(csv_log, tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("from_csv") / "out"
    words = (csv_log / "drains.csv", "--usage", csv_log / "usage.csv", "--as-of", AS_OF)
    assert run_program("plan", *words, out=out, page=False).status == 3
    return out


def holds(folder: Path, secret: str) -> list[str]:
    """Files below a folder in which a secret stands, in any form that an address or JSON gives it."""
    forms = {secret, quote(secret), quote(secret, safe=""), quote_plus(secret), json.dumps(secret)[1:-1]}
    forms |= {form.replace("&", "&amp;") for form in forms}
    wanted = [form.encode() for form in forms] + [secret.encode("utf-16-le"), secret.encode("latin-1")]
    files = [path for path in folder.rglob("*") if path.is_file()]
    assert files
    return [str(path) for path in files if any(form in path.read_bytes() for form in wanted)]


def same_results(out: Path, from_csv: Path) -> None:
    for name in RESULTS:
        assert (out / name).read_bytes() == (from_csv / name).read_bytes(), name
    held, expected = (pl.read_csv(folder / "held_back.csv", infer_schema=False) for folder in (out, from_csv))
    assert held.select("column", "value").rows() == expected.select("column", "value").rows()


@pytest.mark.usefixtures("without_evidence")
def test_a_pattern_of_monthly_files_answers_as_the_whole_log(csv_log, from_csv, run, tmp_path):
    header, *lines = (csv_log / "drains.csv").read_text().splitlines(keepends=True)
    for start in range(0, len(lines), 6):
        (tmp_path / f"log-{start:02}.csv").write_text(header + "".join(lines[start : start + 6]))
    done = run("plan", tmp_path / "log-*.csv", "--usage", csv_log / "usage.csv", "--as-of", AS_OF, page=False)
    assert done.status == 3
    same_results(done.folder, from_csv)
    assert "log-12.csv" in done.table("held_back")["source"].to_list()


@pytest.mark.usefixtures("without_evidence")
def test_an_sqlite_database_answers_as_the_file(sqlite_log, from_csv, run):
    before = sqlite_log.read_bytes()
    done = run("plan", sqlite_log, "--as-of", AS_OF, page=False)
    assert done.status == 3
    same_results(done.folder, from_csv)
    assert sqlite_log.read_bytes() == before
    assert done.record()["log"].endswith("shop.db")


@pytest.mark.usefixtures("without_evidence")
def test_a_postgresql_database_answers_as_the_file_and_tells_no_password(server_log, from_csv, run, secret, capfd):
    done = run("plan", server_log, "--as-of", AS_OF, "--verbose")
    assert done.status == 3
    same_results(done.folder, from_csv)
    assert holds(done.folder, secret) == []
    shown = capfd.readouterr()
    assert all(secret not in text for text in (done.printed, shown.out, shown.err))
    assert done.record()["log"] == "whole"
    assert {table["source"] for table in done.record()["inputs"]} == {"whole[drains]", "whole[usage]"}


def test_a_night_from_a_database_leaves_no_password_and_no_second_report(server_log, tmp_path, secret, run, capfd):
    settings = tmp_path / "nightly.toml"
    settings.write_text(f"[sources]\nlog = '{server_log}#drains'\nusage = '{server_log}#usage'\n")
    first = run("nightly", settings, "--as-of", AS_OF, out=False)
    assert first.status == 3, first.printed
    assert json.loads(first.printed.splitlines()[0])["status"] == "held back"
    again = run("nightly", settings, "--as-of", AS_OF, out=False)
    assert json.loads(again.printed.splitlines()[0])["status"] == "unchanged"
    settings.write_text(settings.read_text().replace("#usage", "#usages"))
    failed = run("nightly", settings, "--as-of", AS_OF, out=False)
    assert failed.status == 1
    assert "no table named usages; the tables there are drains, usage; is usage meant?" in failed.printed
    assert holds(tmp_path, secret) == []
    shown = capfd.readouterr()
    printed = first.printed + again.printed + failed.printed + shown.out + shown.err
    assert secret not in printed
    assert quote(secret, safe="") not in printed


@pytest.mark.parametrize(
    ("log", "said"),
    [
        ("nowhere.csv", "nowhere.csv: no such file"),
        ("nowhere-*.csv", "no file fits the pattern"),
        ("sqlite:nowhere.db#drains", "nowhere.db: no such file"),
        ("sqlite:.#drains", "is a folder"),
        ("/dev/null", "is no plain file"),
        ("postgresql://ann@127.0.0.1:1/shop#drains", "the database cannot be reached"),
        ("postgresql://ann:pw@127.0.0.1:1/shop#drains", "holds a password"),
        ("mysql://db/shop#drains", "no kind of address that is known"),
        ("x" * 300, "File name too long"),
        ("x" * 5000 + "*", "File name too long|no file fits"),
    ],
)
def test_what_cannot_be_read_is_one_line_and_exit_status_1(log, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for command in (["check", log], ["plan", log, "--out", "out"]):
        done = CliRunner().invoke(app, [*command, "--as-of", AS_OF])
        assert done.exit_code == 1
        assert done.stdout == ""
        assert done.stderr.count("\n") == 1
        assert pl.Series([done.stderr]).str.contains(said)[0]
    assert not (tmp_path / "out").exists()
