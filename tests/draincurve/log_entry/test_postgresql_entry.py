"""A drain into tables of PostgreSQL, on a real server: whole or not at all, and read back as it was meant."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import polars as pl
import psycopg
import pytest
from bench_logs import AS_OF, HEADER, RULES, entry, rows
from running_postgresql import PASSWORD

from draincurve.log_entry import postgresql_entry
from draincurve.log_entry.drain_entry import EntryError
from draincurve.log_entry.postgresql_entry import KEY, add_to_postgresql
from draincurve.pipeline.reading.sources import postgresql_server as reader
from draincurve.pipeline.reading.sources import read_table, source_address
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import SourceError

SERIAL = "id bigserial PRIMARY KEY"
IDENTITY = "id int GENERATED ALWAYS AS IDENTITY PRIMARY KEY"
TYPES = {"drained_on": "date", "oil_hours": "numeric(8, 3)", "filled_ml": "int", "debris_rating": "smallint"}
KILLS = 3
ADDING = """
import sys
sys.path.insert(0, sys.argv[2])
from bench_logs import RULES, entry
from draincurve.log_entry.postgresql_entry import add_to_postgresql
from draincurve.pipeline.reading.sources import source_address
for number in range(int(sys.argv[3]), int(sys.argv[3]) + 400):
    one = entry(oil_hours=f"{1 + number / 10:.1f}", note=f"entry {number}")
    add_to_postgresql(source_address(sys.argv[1]), "drains", entry=one, rules=RULES)
    print(number, flush=True)
"""


def literal(value: object) -> str:
    return "'" + str(value).replace("'", "''") + "'" if value != "" else "NULL"


def script(key=IDENTITY, types=TYPES, name="drains", more="", begin=0):
    """A table with a dozen drains."""
    columns = ", ".join(f"{column} {types.get(column, 'text')}" for column in HEADER)
    values = ", ".join(f"({', '.join(map(literal, row))})" for row in rows()[begin:])
    made = f'CREATE TABLE "{name}" ({f"{key}, " if key else ""}{columns}{more});'
    return f'{made} INSERT INTO "{name}" ({", ".join(HEADER)}) VALUES {values}'


def add(address, rules=RULES, **changed):
    return add_to_postgresql(address, address.part or "drains", entry=entry(**changed), rules=rules)


def stored(address) -> pl.DataFrame:
    return read_table(address, "drains").frame


def child(code: str, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", code, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[3],
        env=os.environ,
    )


@pytest.mark.parametrize("key", [SERIAL, IDENTITY])
def test_a_drain_is_added_and_check_reads_it(postgresql_shop, key):
    address = postgresql_shop(script(key))
    added = add(address, unit_id="f07", colour_rating="3-4", note="=1+1 'x'")
    assert added.location.endswith(", table drains, row 13 (id = 13)")
    assert PASSWORD not in added.location
    assert added.written.startswith("unit_id = F07, drained_on = 2026-06-19, oil_hours = 12.5")
    assert stored(address).row(-1)[1:-1] == (
        "F07", "2026-06-19", "12.5", "Fork 5", None, "3-4", "2", "Stepped 46", "Tevik", "=1+1 'x'",
    )  # fmt: skip
    drains = check_log({"drains": read_table(address, "drains")}, RULES.settings, as_of=AS_OF).accepted["drains"]
    found = drains.row(by_predicate=pl.col("line") == 13, named=True)
    assert (found["oil_hours"], found["colour_low"], found["colour_high"]) == (12.5, 3, 4)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"oil_hours": "0"}, "is not over 0 h"),
        ({"drained_on": "2026-06-21"}, "is in the future"),
        ({"rider": ""}, "rider is empty"),
        ({"rated_by": "KB"}, "has no column rated_by"),
        ({"drained_on": "2026-01-05", "oil_hours": "9.0"}, "has the same unit, date and hours as line 1"),
        ({"oil_hours": "12.50049"}, r"oil_hours = 12.50049 would be read as 12\.5 "),
    ],
)
def test_what_check_would_hold_back_is_refused(postgresql_shop, changed, said):
    address = postgresql_shop(script())
    before = stored(address)
    with pytest.raises(EntryError, match=said):
        add(address, **changed)
    assert stored(address).equals(before)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"oil_hours": "1h30"}, 'invalid input syntax for type numeric: "1h30"'),
        ({"debris_rating": "2-3"}, 'invalid input syntax for type smallint: "2-3"'),
        ({"rider": "Ada"}, "violates check constraint"),
        ({"unit_id": "F99"}, "violates foreign key constraint"),
        ({"note": "Tevik was asked for more than ten letters"}, "too long for type character varying"),
    ],
)
def test_what_the_database_refuses_is_one_line(postgresql_shop, changed, said):
    types = TYPES | {"note": "varchar(10)", "unit_id": "text REFERENCES units DEFERRABLE INITIALLY DEFERRED"}
    begin = "CREATE TABLE units (unit_id text PRIMARY KEY); INSERT INTO units VALUES ('F07'), ('F08');"
    address = postgresql_shop(begin + script(types=types, more=", CHECK (rider <> 'Ada')"))
    with pytest.raises(SourceError, match="nothing was written: the database refuses it") as caught:
        add(address, **changed)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
    assert PASSWORD not in str(caught.value)
    assert stored(address).height == 12


def test_a_row_that_is_not_the_last_is_found_by_its_key(postgresql_shop):
    address = postgresql_shop(script("", more=", PRIMARY KEY (unit_id, drained_on)"))
    added = add(address, drained_on="2026-01-07")
    assert added.location.endswith("row 2 (unit_id = F07, drained_on = 2026-01-07)")
    assert stored(address).row(1)[:3] == ("F07", "2026-01-07", "12.5")
    with pytest.raises(SourceError, match="duplicate key value"):
        add(address, drained_on="2026-01-07")
    with pytest.raises(EntryError, match=r"not added: oil_hours = 0: "):
        add(address, drained_on="2026-01-06", oil_hours="0")


def test_a_key_of_random_values(postgresql_shop):
    address = postgresql_shop(script("id uuid DEFAULT gen_random_uuid() PRIMARY KEY"))
    for number in range(6):
        added = add(address, note=f"n{number}", oil_hours=f"{20 + number}")
        line = int(added.location.rpartition("row ")[2].partition(" ")[0])
        assert stored(address).row(line - 1, named=True)["note"] == f"n{number}"


def test_questions_are_those_of_the_new_row_wherever_it_is(postgresql_shop):
    address = postgresql_shop(script("", more=", PRIMARY KEY (unit_id, drained_on)"))
    asked = add(address, drained_on="2026-01-08", rider="Tevick").questions
    assert [question.partition(":")[0] for question in asked] == ["rider = Tevick"]


def test_a_column_is_added_in_the_same_transaction_or_not_at_all(postgresql_shop):
    address = postgresql_shop(script())
    allowed = replace(RULES, add_columns=True)
    with pytest.raises(EntryError):
        add(address, allowed, rated_by="KB", oil_hours="0")
    assert "rated_by" not in stored(address).columns
    add(address, allowed, rated_by="KB")
    assert stored(address)["rated_by"].to_list() == [None] * 12 + ["KB"]


@pytest.mark.parametrize("odd", ['drains" -- x', "dra'ins; DROP TABLE x", "Ölwechsel 100 % $1"])
def test_names_are_names_and_never_commands(postgresql_shop, odd):
    quoted = odd.replace('"', '""')
    columns = ", ".join(f"{column} text" for column in HEADER)
    made = f'CREATE TABLE "{quoted}" (id serial PRIMARY KEY, {columns}, "odd ""name %s $2" text)'
    address = postgresql_shop(made, part=odd)
    add(address, rider="Robert'); DROP TABLE drains; -- %s $1")
    assert stored(address)["rider"].to_list() == ["Robert'); DROP TABLE drains; -- %s $1"]


def test_a_table_is_begun_only_when_asked(postgresql_shop):
    address = postgresql_shop("CREATE SCHEMA work")
    with pytest.raises(SourceError, match="no table named drains"):
        add(address)
    beginning = replace(RULES, new_log=True)
    with pytest.raises(EntryError, match="not over 0"):
        add(address, beginning, oil_hours="0")
    with pytest.raises(SourceError, match="there are no tables"):
        add(address)
    add(address, beginning)
    add(address, beginning, oil_hours="9")
    assert stored(address).columns[:-1] == [KEY, *(column.name for column in DRAINS)]
    assert stored(address)[KEY].to_list() == ["1", "2"]
    assert "table work.log, row 1" in add(postgresql_shop(part="work.log"), beginning).location


def test_views_and_tables_without_a_key_are_refused_with_what_to_do(postgresql_shop):
    address = postgresql_shop(script(name="kept") + "; CREATE VIEW drains AS SELECT * FROM kept")
    with pytest.raises(EntryError, match="is a view"):
        add(address)
    address = postgresql_shop("DROP VIEW drains;" + script(""))
    with pytest.raises(EntryError, match="no primary key, by which the new row is found again") as caught:
        add(address)
    assert stored(address).height == 12
    postgresql_shop(str(caught.value).partition("add one there: ")[2])
    assert add(address).location.endswith(f"row 13 ({KEY} = 13)")


def test_a_trigger_that_drops_the_row_is_noticed(postgresql_shop):
    address = postgresql_shop(
        script() + "; CREATE FUNCTION nothing() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END';"
        "CREATE TRIGGER dropped BEFORE INSERT ON drains FOR EACH ROW EXECUTE FUNCTION nothing()"
    )
    with pytest.raises(EntryError, match="a rule of the database keeps the row out"):
        add(address)


def test_a_trigger_that_changes_what_was_given_is_noticed(postgresql_shop):
    address = postgresql_shop(
        script() + "; CREATE FUNCTION more() RETURNS trigger LANGUAGE plpgsql AS "
        "'BEGIN NEW.oil_hours = NEW.oil_hours + 1; RETURN NEW; END';"
        "CREATE TRIGGER more BEFORE INSERT ON drains FOR EACH ROW EXECUTE FUNCTION more()"
    )
    with pytest.raises(EntryError, match=r"oil_hours = 12\.5 would be read as 13\.5"):
        add(address)
    assert stored(address).height == 12


def test_rights_are_asked_for(postgresql_shop):
    postgresql_shop(script())
    postgresql_shop(
        f"DO $$ BEGIN CREATE ROLE guest LOGIN PASSWORD '{PASSWORD}'; EXCEPTION WHEN duplicate_object THEN END $$;"
        "GRANT SELECT ON drains TO guest"
    )
    address = postgresql_shop(user="guest")
    with pytest.raises(SourceError, match="this user may not write there"):
        add(address)
    postgresql_shop("GRANT INSERT, UPDATE ON drains TO guest")
    assert add(address).location.endswith("row 13 (id = 13)")


def test_a_table_that_stays_locked(postgresql_shop, monkeypatch):
    monkeypatch.setattr(reader, "SESSION", reader.SESSION | {"lock_timeout": "200ms"})
    address = postgresql_shop(script())
    with psycopg.connect(f"{address.location}?application_name=other") as other:
        other.execute("INSERT INTO drains (unit_id) VALUES ('F09')")
        with pytest.raises(SourceError, match="nothing was written: the table is locked by another program"):
            add(address)
        other.rollback()
    assert add(address).location.endswith("row 13 (id = 14)"), (
        "a number that was drawn and not used is not used again"
    )


def test_readers_are_not_kept_waiting(postgresql_shop, monkeypatch):
    address = postgresql_shop(script())
    seen = []

    def looked(*given, **named):
        seen.append(stored(address).height)
        return ()

    monkeypatch.setattr(postgresql_entry, "questions_about", looked)
    add(address)
    assert seen == [12]
    assert stored(address).height == 13


def test_a_connection_that_is_lost_before_the_commit_writes_nothing(postgresql_shop, monkeypatch):
    address = postgresql_shop(script())

    def ended(*_, **__):
        postgresql_shop(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'draincurve'"
        )
        return ()

    real = psycopg.Connection.commit
    monkeypatch.setattr(psycopg.Connection, "commit", lambda connection: (ended(), real(connection)))
    with pytest.raises(
        SourceError, match="the connection was lost at the last step; look there whether it was written"
    ):
        add(address)
    monkeypatch.setattr(psycopg.Connection, "commit", real)
    monkeypatch.setattr(postgresql_entry, "questions_about", ended)
    assert stored(address).height == 12


def test_killed_before_the_commit_nothing_is_there(postgresql_shop):
    address = postgresql_shop(script())
    killing = ADDING.replace(
        "for number",
        "import os, signal\nfrom draincurve.log_entry import postgresql_entry\n"
        "postgresql_entry.questions_about = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)\nfor number",
    )
    with child(killing, address.location, str(Path(__file__).parent), "0") as process:
        assert process.communicate(timeout=60) == ("", "")
    assert process.returncode == -signal.SIGKILL
    assert stored(address).height == 12
    assert add(address).location.endswith("row 13 (id = 14)")


def test_killed_at_any_instant_every_row_that_was_said_is_there_and_whole(postgresql_shop):
    address = postgresql_shop(script())
    chance = random.Random(20260620)
    said: list[int] = []
    for kill in range(KILLS):
        with child(ADDING, address.location, str(Path(__file__).parent), str(kill * 20)) as process:
            assert process.stdout is not None
            said.append(int(process.stdout.readline()))
            time.sleep(chance.uniform(0.0, 0.4))
            os.kill(process.pid, signal.SIGKILL)
            rest, fault = process.communicate(timeout=20)
        assert fault == ""
        said += [int(number) for number in rest.split()]
        there = stored(address)[12:]
        found = there["note"].str.strip_prefix("entry ").cast(pl.Int64).to_list()
        assert set(said) <= set(found), "said to be in, and not there"
        assert len(found) == len(set(found))
        assert len(found) <= len(said) + kill + 1, "one at most was in before it could be said"
        assert there.select("unit_id", "oil_hours", "rider").null_count().sum_horizontal().item() == 0


def test_two_writers_at_once_wait_for_each_other(postgresql_shop):
    address = postgresql_shop(script())
    with ThreadPoolExecutor(4) as pool:
        added = list(pool.map(lambda number: add(address, oil_hours=str(number), note=f"e {number}"), range(1, 9)))
    assert sorted(stored(address)["note"].drop_nulls()) == sorted(f"e {number}" for number in range(1, 9))
    assert sorted(item.location.rpartition("id = ")[2] for item in added) == sorted(f"{n})" for n in range(13, 21))


def test_a_signal_leaves_the_table_as_it_was(postgresql_shop, monkeypatch):
    address = postgresql_shop(script())

    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(postgresql_entry, "questions_about", stopped)
    with pytest.raises(KeyboardInterrupt):
        add(address)
    assert stored(address).height == 12


def test_a_server_that_is_not_there():
    with pytest.raises(SourceError, match="the database cannot be reached"):
        add(source_address("postgresql://bench@127.0.0.1:1/shop"))
