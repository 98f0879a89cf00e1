"""A drain into tables of SQLite databases: whole or not at all, and read back as it was meant."""

from __future__ import annotations

import signal
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from bench_logs import AS_OF, HEADER, RULES, entry, rows
from entry_child import add_and_die

from draincurve.log_entry import sqlite_entry
from draincurve.log_entry.drain_entry import EntryError
from draincurve.log_entry.sqlite_entry import add_to_sqlite
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import SourceError

TYPES = {"oil_hours": "REAL", "filled_ml": "INTEGER", "colour_rating": "INTEGER"}


def database(path: Path, columns: str = "", header: tuple[str, ...] = HEADER, name: str = "drains") -> Path:
    with closing(sqlite3.connect(path)) as opened:
        listed = columns or ", ".join(f'"{column}" {TYPES.get(column, "TEXT")}' for column in header)
        opened.execute(f'CREATE TABLE "{name}" ({listed})')
        marks = ", ".join("?" * len(HEADER))
        chosen = ", ".join(f'"{column}"' for column in header)
        for unit, day, *rest in rows():
            opened.execute(f'INSERT INTO "{name}" ({chosen}) VALUES ({marks})', [unit, str(day), *rest])
        opened.commit()
    return path


def stored(path: Path, name: str = "drains") -> list[tuple]:
    with closing(sqlite3.connect(path)) as opened:
        return opened.execute(f'SELECT * FROM "{name}"').fetchall()


def last_accepted(path: Path) -> dict:
    drains = check_log(read_log(path), RULES.settings, as_of=AS_OF).accepted["drains"]
    return drains.filter(pl.col("line") == drains["line"].max()).row(0, named=True)


def test_a_drain_is_added_and_check_reads_it(tmp_path):
    path = database(tmp_path / "shop.db")
    added = add_to_sqlite(path, "drains", entry=entry(unit_id="f07", colour_rating="3-4", note="=1+1"), rules=RULES)
    assert added.location == f"{path}, table drains, row 13"
    assert added.written.startswith("unit_id = F07, drained_on = 2026-06-19, oil_hours = 12.5")
    assert stored(path)[-1] == ("F07", "2026-06-19", 12.5, "Fork 5", None, "3-4", "2", "Stepped 46", "Tevik", "=1+1")
    found = last_accepted(path)
    assert (found["oil_hours"], found["colour_low"], found["colour_high"], found["note"]) == (12.5, 3, 4, "=1+1")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"oil_hours": "0"}, "is not over 0 h"),
        ({"drained_on": "2026-06-21"}, "is in the future"),
        ({"rider": ""}, "rider is empty"),
        ({"rated_by": "KB"}, "has no column rated_by"),
        ({"drained_on": "2026-01-05", "oil_hours": "9.0"}, "has the same unit, date and hours as line 1"),
    ],
)
def test_what_check_would_hold_back_is_refused(changed, said, tmp_path):
    path = database(tmp_path / "shop.db")
    before = path.read_bytes()
    with pytest.raises(EntryError, match=said):
        add_to_sqlite(path, "drains", entry=entry(**changed), rules=RULES)
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["shop.db"]


def test_a_column_is_added_in_the_same_transaction_or_not_at_all(tmp_path):
    path = database(tmp_path / "shop.db")
    allowed = replace(RULES, add_columns=True)
    with pytest.raises(EntryError):
        add_to_sqlite(path, "drains", entry=entry(rated_by="KB", oil_hours="0"), rules=allowed)
    assert len(stored(path)[0]) == len(HEADER)
    add_to_sqlite(path, "drains", entry=entry(rated_by="KB"), rules=allowed)
    assert stored(path)[-1][-1] == "KB"
    assert stored(path)[0][-1] is None


def test_a_column_type_that_would_change_what_was_given_is_noticed(tmp_path):
    columns = ", ".join(f"{column} {'INTEGER' if column == 'unit_id' else 'TEXT'}" for column in HEADER)
    path = database(tmp_path / "shop.db", columns)
    with pytest.raises(EntryError, match="unit_id = 007 would be read as 7"):
        add_to_sqlite(path, "drains", entry=entry(unit_id="007"), rules=RULES)
    assert len(stored(path)) == 12


def test_rules_of_the_database_hold(tmp_path):
    columns = (
        ", ".join(HEADER) + ", id INTEGER PRIMARY KEY, place TEXT NOT NULL DEFAULT 'bench', CHECK (rider <> 'Ada')"
    )
    path = database(tmp_path / "shop.db", columns)
    with pytest.raises(EntryError, match="CHECK constraint failed"):
        add_to_sqlite(path, "drains", entry=entry(rider="Ada"), rules=RULES)
    add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
    assert stored(path)[-1][-2:] == (13, "bench")


@pytest.mark.parametrize("odd", ['drains" -- ', "dra'ins; DROP TABLE x", "Ölwechsel"])
def test_names_are_names_and_never_commands(odd, tmp_path):
    path = tmp_path / "shop.db"
    with closing(sqlite3.connect(path)) as opened:
        quoted = odd.replace('"', '""')
        opened.execute(f'CREATE TABLE "{quoted}" ({", ".join(HEADER)}, "odd ""name" TEXT)')
        opened.commit()
    add_to_sqlite(path, odd, entry=entry(rider="Robert'); DROP TABLE drains; --"), rules=RULES)
    with closing(sqlite3.connect(path)) as opened:
        assert opened.execute(f'SELECT rider FROM "{quoted}"').fetchall() == [("Robert'); DROP TABLE drains; --",)]


def test_a_table_or_database_is_begun_only_when_asked(tmp_path):
    path = tmp_path / "shop.db"
    with pytest.raises(EntryError, match="begin a log with --new"):
        add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
    beginning = replace(RULES, new_log=True)
    with pytest.raises(EntryError, match="not over 0"):
        add_to_sqlite(path, "drains", entry=entry(oil_hours="0"), rules=beginning)
    assert list(tmp_path.iterdir()) == [], "no empty database is left"
    add_to_sqlite(path, "drains", entry=entry(), rules=beginning)
    add_to_sqlite(path, "drains", entry=entry(oil_hours="9"), rules=beginning)
    assert len(stored(path)) == 2
    assert len(stored(path)[0]) == len(DRAINS)
    with pytest.raises(SourceError, match="no table named others"):
        add_to_sqlite(path, "others", entry=entry(), rules=RULES)


def test_views_and_tables_without_row_numbers_are_refused(tmp_path):
    path = database(tmp_path / "shop.db", name="kept")
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("CREATE VIEW drains AS SELECT * FROM kept")
        columns = ", ".join(f'"{column}" TEXT' for column in HEADER)
        opened.execute(f"CREATE TABLE keyed ({columns}, PRIMARY KEY (unit_id, drained_on, oil_hours)) WITHOUT ROWID")
        opened.commit()
    with pytest.raises(EntryError, match="cannot modify drains because it is a view"):
        add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
    with pytest.raises(EntryError, match="no row numbers"):
        add_to_sqlite(path, "keyed", entry=entry(), rules=RULES)


def test_a_file_that_is_no_database(tmp_path):
    path = tmp_path / "shop.db"
    path.write_text("unit_id,drained_on\n" * 100)
    with pytest.raises(EntryError, match="not a database"):
        add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
    assert path.read_text().startswith("unit_id")


def test_a_database_that_stays_locked(tmp_path, monkeypatch):
    path = database(tmp_path / "shop.db")
    monkeypatch.setattr(sqlite_entry, "WAIT_S", 0.1)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(EntryError, match="another program holds it; try again later"):
            add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
        other.execute("ROLLBACK")
    add_to_sqlite(path, "drains", entry=entry(), rules=RULES)


def test_killed_before_the_commit_nothing_is_there(tmp_path):
    path = database(tmp_path / "shop.db")
    assert add_and_die(path) == -signal.SIGKILL
    assert len(stored(path)) == 12
    add_to_sqlite(path, "drains", entry=entry(), rules=RULES)
    assert len(stored(path)) == 13
