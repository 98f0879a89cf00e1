"""PostgreSQL, on a real server: exact text, an order that stays, nothing changed, and no password anywhere."""

from __future__ import annotations

import signal
import socket
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date
from urllib.parse import quote

import pytest
from running_postgresql import PASSWORD, USER

from draincurve.pipeline.reading.sources import postgresql_server as reader
from draincurve.pipeline.reading.sources import read_table, source_address
from draincurve.pipeline.reading.sources.postgresql_server import HIDDEN, Server, server_of, without_secret
from draincurve.pipeline.reading.sources.postgresql_session import session_with
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

LOG = """
    unit_id text, drained_on date, oil_hours numeric(8, 3), oil_grade text, colour_rating smallint, debris_rating int,
    spring_type varchar(20), rider char(8)
"""
GOOD = "'F1', '2026-03-01', 10.5, 'Fork 5', 2, 3, 'Plain', 'AB'"


REFUSED = {
    "not accepted": {"password": "Wr0ng&Zq7"},
    'database "nope" does not exist': {"database": "nope"},
    "a password is needed": {"password": None},
    "no connection within": {"port": None},
    "does not support TLS": {"parameters": (("sslmode", "require"),)},
}
"""Words of the one line, and what is wrong: the password, the database, a door behind which nobody answers, TLS."""


@pytest.fixture
def shop(postgresql_shop):
    """Makes a database of its own with a script, and returns the address of a part of it."""
    return postgresql_shop


def test_every_kind_of_value_comes_as_its_exact_text(shop):
    values = {
        "numeric": ("12345678901234567890.1200", "12345678901234567890.12"),
        "numeric(6,2)": ("7.00", "7"),
        "bigint": ("9223372036854775807", "9223372036854775807"),
        "float8": ("0.30000000000000004", "0.30000000000000004"),
        "real": ("0.1", "0.1"),
        "date": ("2026-03-01", "2026-03-01"),
        "timestamp": ("2026-03-01 23:30:00.25", "2026-03-01 23:30:00.25"),
        "timestamptz": ("2026-03-01 23:30:00+02", "2026-03-01 21:30:00+00"),
        "time": ("10:30", "10:30:00"),
        "interval": ("1 day 02:45", "26.75"),
        "boolean": ("true", "true"),
        "text[]": ('{a,"b c",NULL}', '{a,"b c",NULL}'),
        "int[]": ("{1,2}", "{1,2}"),
        "jsonb": ('{"a": 1}', '{"a": 1}'),
        "uuid": ("6e4a1f0c-0000-4000-8000-000000000001", "6e4a1f0c-0000-4000-8000-000000000001"),
        "char(5)": ("AB", "AB"),
        "mood": ("low", "low"),
        "int4range": ("[1,5)", "[1,5)"),
        "text": ("  ä „text“ 'x' \t", "  ä „text“ 'x' \t"),
    }
    name = shop().location.rsplit("/", 1)[-1]
    columns = ", ".join(f"c{place} {kind}" for place, kind in enumerate(values))
    cells = ", ".join("'" + typed.replace("'", "''") + "'" for typed, _ in values.values())
    nothing = ", ".join(["NULL"] * len(values))
    script = f"CREATE TYPE mood AS ENUM ('low'); CREATE TABLE drains (id int PRIMARY KEY, {columns});"
    script += f"ALTER DATABASE {name} SET timezone = 'UTC'; INSERT INTO drains VALUES (1, {cells}), (2, {nothing})"
    frame = read_log(shop(script))["drains"].frame
    assert frame.row(0)[1 : len(values) + 1] == tuple(read for _, read in values.values())
    assert frame.row(1)[1 : len(values) + 1] == (None,) * len(values)


def test_a_time_with_zone_is_the_day_of_the_zone_that_is_set(shop, monkeypatch):
    address = shop(f"CREATE TABLE drains ({LOG}); ALTER TABLE drains ALTER drained_on TYPE timestamptz")
    shop("INSERT INTO drains VALUES ('F1', '2026-03-01 23:30:00+00', 10.5, 'Fork 5', 2, 3, 'Plain', 'AB')")
    days = {}
    for zone in ("Etc/UTC", "Europe/Berlin", "America/New_York"):
        monkeypatch.setenv("PGTZ", zone)
        days[zone] = check_log(read_log(address), Settings(), as_of=date(2026, 6, 20)).accepted["drains"][
            "drained_on"
        ][0]
    assert days == {
        "Etc/UTC": date(2026, 3, 1),
        "Europe/Berlin": date(2026, 3, 2),
        "America/New_York": date(2026, 3, 1),
    }


def test_rows_are_numbered_in_the_order_of_the_primary_key(shop):
    rows = ", ".join(f"({key}, 'F{key}')" for key in (10, 9, 100))
    frame = read_log(shop(f"CREATE TABLE drains (id int PRIMARY KEY, unit text); INSERT INTO drains VALUES {rows}"))
    assert frame["drains"].frame.select("unit", "_line").rows() == [("F9", 1), ("F10", 2), ("F100", 3)]
    shop("UPDATE drains SET unit = unit WHERE id = 9")
    assert read_log(shop())["drains"].frame.equals(frame["drains"].frame)


def test_rows_without_a_key_are_numbered_in_the_order_of_all_columns(shop):
    address = shop(
        "CREATE TABLE drains (unit text, n int); INSERT INTO drains VALUES ('b', 1), ('B', NULL), ('a', 2)"
    )
    first = read_log(address)["drains"]
    assert first.frame.select("unit", "_line").rows() == [("B", 1), ("a", 2), ("b", 3)]
    shop("UPDATE drains SET n = 1 WHERE unit = 'b'; VACUUM FULL drains")
    assert read_log(address)["drains"].sha256 == first.sha256
    shop("UPDATE drains SET n = 5 WHERE unit = 'b'")
    assert read_log(address)["drains"].sha256 != first.sha256


def test_bytes_hold_a_row_back_where_they_are_used_and_nowhere_else(shop):
    script = f"CREATE TABLE drains ({LOG}, note bytea, photo bytea); INSERT INTO drains VALUES ({GOOD}, NULL, 'x')"
    log = check_log(read_log(shop(script)), Settings(), as_of=date(2026, 6, 20))
    assert log.held_back.is_empty()
    shop(f"INSERT INTO drains VALUES ({GOOD.replace('F1', 'F2')}, 'x', NULL)")
    log = check_log(read_log(shop()), Settings(), as_of=date(2026, 6, 20))
    assert log.held_back.select("column", "reason").rows() == [("note", "holds bytes, not text: write it as text")]
    assert log.accounts[0].read == 2


def test_tables_schemas_views_and_odd_names(shop):
    script = f"""
        CREATE SCHEMA work; CREATE TABLE work.log ({LOG}); INSERT INTO work.log VALUES ({GOOD});
        CREATE VIEW "Drains" AS SELECT * FROM work.log; CREATE TABLE usage (unit text, date date, hours float8);
        CREATE MATERIALIZED VIEW "odd "" 'name" AS SELECT 'F1' AS unit
    """
    address = shop(script)
    assert list(read_log(address)) == ["drains", "usage"]
    database = address.location.rsplit("/", 1)[-1]
    assert read_table(shop(part="work.log"), "drains").source == f"{database}[work.log]"
    assert read_table(shop(part="public.Drains"), "drains").frame["rider"].to_list() == ["AB"]
    assert read_table(shop(part="odd \" 'name"), "usage").frame["unit"].to_list() == ["F1"]
    assert read_table(address, "usage").headers == ("unit", "date", "hours")
    with pytest.raises(SourceError, match=r"no table named drain; the tables there are .*; is Drains meant"):
        read_table(shop(part="drain"), "drains")
    with pytest.raises(SourceError, match="no table named units"):
        read_table(address, "units")


def test_a_query(shop):
    script = f"CREATE TABLE log ({LOG}); INSERT INTO log VALUES ({GOOD}), ({GOOD.replace('F1', 'F0')})"
    query = "select unit_id, oil_hours * 60 as \"hours min\", 1 as a, 2 as a from log where rider = 'AB' -- no more;"
    table = read_log(shop(script, query))["drains"]
    assert table.frame.rows() == [("F0", "630", "1", "2", 1), ("F1", "630", "1", "2", 2)]
    assert table.headers == ("unit_id", "hours min", "a", "a")
    table = read_log(shop(part="WITH d AS (SELECT * FROM log) SELECT * FROM d WHERE unit_id = 'F1';"))["drains"]
    assert table.frame["unit_id"].to_list() == ["F1"]


def test_a_wide_empty_table_has_its_headings(shop):
    address = shop("CREATE TABLE usage (unit text, date date, hours float8); CREATE TABLE nothing ()")
    assert read_table(address, "usage").headers == ("unit", "date", "hours")
    with pytest.raises(SourceError, match="has no columns"):
        read_table(shop(part="nothing"), "usage")


def test_nothing_is_ever_changed(shop):
    address = shop(f"CREATE TABLE drains ({LOG}); CREATE SEQUENCE numbers; INSERT INTO drains VALUES ({GOOD})")
    shop("""CREATE FUNCTION emptied() RETURNS text LANGUAGE sql AS 'DELETE FROM drains RETURNING unit_id'""")
    for query in (
        "select nextval('numbers')::text",
        "select emptied() as unit_id",
        "with gone as (delete from drains returning *) select * from gone",
        "select 1) as q; delete from drains; select * from (select 1",
        "select set_config('transaction_read_only', 'off', false), emptied()",
    ):
        with pytest.raises(SourceError):
            read_log(source_address(f"{address.location}#{query}"))
    assert read_log(address)["drains"].frame.height == 1


def test_what_writes_is_said_to_write(shop):
    shop("CREATE SEQUENCE numbers")
    with pytest.raises(SourceError, match="would change the database, which is never done"):
        read_log(shop(part="select nextval('numbers')"))


def test_a_query_that_takes_too_long_is_ended(shop, monkeypatch):
    monkeypatch.setattr(reader, "SESSION", reader.SESSION | {"statement_timeout": "200ms"})
    with pytest.raises(SourceError, match="takes longer than"):
        read_log(shop(part="select pg_sleep(20)"))


def test_a_locked_table_is_said_to_be_locked(shop, postgresql_server, monkeypatch):
    monkeypatch.setattr(reader, "SESSION", reader.SESSION | {"lock_timeout": "200ms"})
    address = shop(f"CREATE TABLE drains ({LOG}); INSERT INTO drains VALUES ({GOOD})")
    name = address.location.rsplit("/", 1)[-1]
    with ThreadPoolExecutor(1) as pool:
        holding = pool.submit(postgresql_server.run, "BEGIN; LOCK drains; SELECT pg_sleep(4)", name)
        while holding.running() and not _locked(address):
            time.sleep(0.05)
        with pytest.raises(SourceError, match="locked by another program"):
            read_log(address)
        holding.result()


def _locked(address):
    query = "select count(*) as n from pg_locks where mode = 'AccessExclusiveLock' and relation = 'drains'::regclass"
    return read_table(source_address(f"{address.location}#{query}"), "usage").frame["n"].to_list() == ["1"]


def test_rights_are_asked_for(shop, postgresql_server):
    shop(f"CREATE TABLE drains ({LOG}); INSERT INTO drains VALUES ({GOOD})")
    shop(f"DO $$ BEGIN CREATE ROLE guest LOGIN PASSWORD '{PASSWORD}'; EXCEPTION WHEN duplicate_object THEN END $$")
    with pytest.raises(
        SourceError, match=r"may not read it; ask for the right to select .*permission denied"
    ) as caught:
        read_log(shop(user="guest"))
    assert PASSWORD not in str(caught.value)


def test_errors_of_a_query_are_told(shop):
    with pytest.raises(SourceError, match=r'query fails .*relation "nowhere" does not exist'):
        read_log(shop(part="select * from nowhere"))


def test_a_password_file_and_a_socket_serve_as_well(shop, postgresql_server, tmp_path, monkeypatch):
    monkeypatch.delenv("PGPASSWORD")
    address = shop(f"CREATE TABLE drains ({LOG}); INSERT INTO drains VALUES ({GOOD})")
    escaped = PASSWORD.replace("\\", "\\\\").replace(":", "\\:")
    path = tmp_path / "pgpass"
    path.write_text(f"# passwords\n*:1:*:*:wrong\n127.0.0.1:{postgresql_server.port}:*:{USER}:{escaped}\n")
    path.chmod(0o600)
    monkeypatch.setenv("PGPASSFILE", str(path))
    assert read_log(address)["drains"].frame.height == 1
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    through_socket = postgresql_server.socket_address(address.location.rsplit("/", 1)[-1])
    assert read_log(source_address(through_socket))["drains"].frame.height == 1


def test_what_the_address_leaves_out_comes_from_the_environment(shop, postgresql_server, monkeypatch):
    name = shop(f"CREATE TABLE drains ({LOG}); INSERT INTO drains VALUES ({GOOD})").location.rsplit("/", 1)[-1]
    for variable, value in {
        "PGHOST": "127.0.0.1",
        "PGPORT": str(postgresql_server.port),
        "PGUSER": USER,
        "PGDATABASE": name,
    }.items():
        monkeypatch.setenv(variable, value)
    assert read_log(source_address("postgresql://#drains"))["drains"].frame.height == 1


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("postgresql://127.0.0.1:1/shop", "cannot be reached"),
        ("postgresql://no-such-host.invalid/shop", "cannot be reached"),
        ("postgresql://%2Fnowhere/shop", "cannot be reached"),
        ("postgresql://db:port/shop", "not an address of PostgreSQL"),
        ("postgresql://db:99999/shop", "not an address of PostgreSQL"),
        ("postgresql://[::1/shop", "not an address of PostgreSQL"),
        ("postgresql://db/shop?target=x", "target is not known here; possible are sslmode, sslrootcert"),
    ],
)
def test_without_a_server(address, said, monkeypatch):
    monkeypatch.setenv("PGPASSWORD", PASSWORD)
    with pytest.raises(SourceError, match=said) as caught:
        read_log(source_address(address))
    assert PASSWORD not in str(caught.value)


def test_a_password_file_that_others_may_read_is_refused(tmp_path):
    path = tmp_path / "pgpass"
    path.write_text(f"*:*:*:*:{PASSWORD}\n")
    path.chmod(0o644)
    with pytest.raises(SourceError, match="set its rights to 0600") as caught:
        server_of("postgresql://ann@db/shop", {"PGPASSFILE": str(path)})
    assert PASSWORD not in str(caught.value)


@pytest.mark.parametrize(
    ("lines", "password"),
    [
        ("db:5432:shop:ann:one\n*:*:*:*:two\n", "one"),
        ("db:5433:shop:ann:one\n*:*:*:*:two\n", "two"),
        ("db:5432:other:ann:one\n", None),
        ("#*:*:*:*:one\n\nbroken\n*:*:shop:ann:a\\:b\\\\c\n", "a:b\\c"),
        ("d\\b:*:*:ann:x\n", "x"),
    ],
)
def test_lines_of_a_password_file(tmp_path, lines, password):
    """Source of the form: PostgreSQL documentation, 34.16 The Password File."""
    (tmp_path / ".pgpass").write_text(lines)
    (tmp_path / ".pgpass").chmod(0o600)
    assert server_of("postgresql://ann@db/shop", {"HOME": str(tmp_path)}).password == password


def test_a_password_is_taken_out_of_whatever_the_driver_says():
    server = Server("db", 5432, "shop", "ann", PASSWORD)
    text = f"cannot parse postgresql://ann:{quote(PASSWORD, safe='')}@db: {PASSWORD}"
    assert without_secret(text, server) == f"cannot parse postgresql://ann:{HIDDEN}@db: {HIDDEN}"
    assert PASSWORD not in repr(server)
    assert PASSWORD not in server.label


def test_many_rows(shop):
    address = shop("CREATE TABLE usage AS SELECT 'F' || n AS unit, date '2026-01-01' AS date, n / 4.0 AS hours "
                   "FROM generate_series(1, 100000) AS n")  # fmt: skip
    frame = read_table(address, "usage").frame
    assert frame.height == 100_000
    assert frame["_line"].to_list() == list(range(1, 100_001))
    assert frame["hours"].str.to_decimal(scale=2).sum() * 4 == 100_000 * 100_001 // 2


@pytest.mark.parametrize("words", REFUSED)
def test_a_refusal_is_one_line_after_one_login(words, postgresql_server, monkeypatch):
    monkeypatch.setattr("draincurve.pipeline.reading.sources.postgresql_server.CONNECT_SECONDS", 2)
    good = {"host": "127.0.0.1", "port": postgresql_server.port, "database": "postgres", "user": USER}
    with closing(socket.create_server(("127.0.0.1", 0))) as silent:
        asked = good | {"password": PASSWORD} | REFUSED[words]
        asked["port"] = asked["port"] or silent.getsockname()[1]
        log = postgresql_server.folder / "log"
        before, begin = log.read_text().count("FATAL"), time.monotonic()
        with pytest.raises(SourceError) as caught, session_with(Server(**asked)):
            pass
    assert time.monotonic() - begin < 5
    assert log.read_text().count("FATAL") - before <= 1
    line = str(caught.value)
    assert words in line
    assert "\n" not in line
    assert PASSWORD not in line
    assert quote(PASSWORD, safe="") not in line
    assert "Wr0ng" not in line


def test_a_signal_ends_the_query_at_the_server_too(shop, postgresql_server):
    address = shop("CREATE TABLE usage AS SELECT 1 AS n")

    def stop(*_):
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, 0.5)
    try:
        with pytest.raises(KeyboardInterrupt):
            read_log(source_address(f"{address.location}#select pg_sleep(20)::text as unit"))
    finally:
        signal.signal(signal.SIGALRM, before)
    running = (
        "select count(*) as n from pg_stat_activity where query like '%pg_sleep(20)%' and pid <> pg_backend_pid()"
    )
    assert read_table(source_address(f"{address.location}#{running}"), "usage").frame["n"].to_list() == ["0"]


def test_without_the_driver_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(SourceError, match=r"needs an extra: pip install 'draincurve\[postgresql\]'"):
        read_log(source_address("postgresql://bench@127.0.0.1/shop#drains"))
