"""SQLite: values without loss, lines, errors in words, and a file that nobody can tell was read."""

import sqlite3
import threading
from contextlib import closing
from datetime import date

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.sources import read_table, source_address, sqlite_file
from draincurve.pipeline.reading.sources.database_tables import column_text
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

WITHOUT_NUL = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]))
GOOD = ("F1", "2026-03-01", 10.5, "Fork 5", 2, 3, "Plain", "AB")
COLUMNS = "unit_id, drained_on, oil_hours, oil_grade, colour_rating, debris_rating, spring_type, rider"


@pytest.fixture
def shop(tmp_path):
    """Makes shop.db with a script, and returns the address of a part of it."""
    path = tmp_path / "shop.db"

    def made(script="", rows=(), part=None):
        with closing(sqlite3.connect(path)) as database:
            database.executescript(script or f"CREATE TABLE IF NOT EXISTS drains ({COLUMNS})")
            if rows:
                database.executemany(f"INSERT INTO drains VALUES ({', '.join('?' * 8)})", rows)
            database.commit()
        return source_address("sqlite:shop.db" + (f"#{part}" if part else ""), tmp_path)

    return made


def test_values_come_as_their_exact_text(shop):
    values = (0.1 + 0.2, 1e300, 7.0, 2**63 - 1, -5, "  ä 'text' ", None, "")
    frame = read_log(shop("CREATE TABLE drains (a, b, c, d, e, f, g, h)", [values]))["drains"].frame
    assert frame.row(0)[:8] == (
        "0.30000000000000004", "1e+300", "7", "9223372036854775807", "-5", "  ä 'text' ", None, None,
    )  # fmt: skip


@given(st.lists(st.one_of(st.none(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False), WITHOUT_NUL)))
def test_numbers_read_back_as_the_same_number(values):
    texts, blobs = column_text(values)
    assert not blobs.any()
    for value, text in zip(values, texts, strict=True):
        if isinstance(value, float):
            assert float(text) == value
        elif isinstance(value, int):
            assert int(text) == value
        else:
            assert text == value


def test_a_column_declared_as_real_gives_a_units_number_as_a_name(shop):
    script = "CREATE TABLE drains (unit_id REAL, b, c, d, e, f, g, h)"
    assert read_log(shop(script, [(7, *GOOD[1:])]))["drains"].frame["unit_id"].to_list() == ["7"]


def test_bytes_hold_a_row_back_where_they_are_used_and_nowhere_else(shop):
    script = f"CREATE TABLE drains ({COLUMNS}, photo BLOB, leak)"
    shop(script, [])
    address = shop("SELECT 1")
    with closing(sqlite3.connect(address.path)) as database:
        insert = f"INSERT INTO drains VALUES ({', '.join('?' * 10)})"
        database.execute(insert, (*GOOD, b"\x89PNG", None))
        database.execute(insert, (b"F2", *GOOD[1:], None, "yes"))
        database.execute(insert, ("F3", *GOOD[1:5], b"", *GOOD[6:], None, "yes"))
        database.execute("INSERT INTO drains SELECT CAST(x'46ff' AS TEXT), " + "2,3,4,5,6,7,8,9,10")
        database.execute("INSERT INTO drains SELECT CAST(x'460035' AS TEXT), " + "2,3,4,5,6,7,8,9,10")
        database.commit()
    log = check_log(read_log(address), Settings(), as_of=date(2026, 11, 25))
    assert log.accepted["drains"]["unit_id"].to_list() == ["F1"]
    reasons = dict(log.held_back.select("line", "reason").rows())
    assert set(reasons) == {2, 3, 4, 5}
    assert all("holds bytes, not text" in reason for reason in reasons.values())
    assert log.legible["drains"].filter(pl.col("leak"))["unit_id"].to_list() == ["F3"]


def test_the_line_is_the_rowid(shop):
    address = shop("", [GOOD, ("F2", *GOOD[1:]), ("F3", *GOOD[1:])])
    with closing(sqlite3.connect(address.path)) as database:
        database.execute("DELETE FROM drains WHERE unit_id = 'F2'")
        database.commit()
    assert read_log(address)["drains"].frame.select("unit_id", "_line").rows() == [("F1", 1), ("F3", 3)]


@pytest.mark.parametrize(
    "script",
    [
        f"CREATE TABLE drains ({COLUMNS}, PRIMARY KEY (unit_id)) WITHOUT ROWID",
        f"CREATE TABLE t ({COLUMNS}); CREATE VIEW drains AS SELECT * FROM t",
        f"CREATE TABLE drains (rowid TEXT, oid TEXT, _rowid_ TEXT, {COLUMNS})",
    ],
)
def test_without_rowid_rows_are_numbered_in_an_order_that_stays(shop, script):
    shop(script)
    table, more = ("t" if "VIEW" in script else "drains"), ("'x', 'y', 'z', " if "rowid TEXT" in script else "")
    rows = "".join(
        f"INSERT INTO {table} VALUES ({more}'{unit}','2026-03-01',10,'Fork 5',2,3,'Plain','AB');"
        for unit in ("F3", "F1", "F2")
    )
    frame = read_log(shop(rows))["drains"].frame
    assert frame.select("unit_id", "_line").rows() == [("F1", 1), ("F2", 2), ("F3", 3)]


def test_rowids_below_one_are_not_lines(shop):
    address = shop()
    with closing(sqlite3.connect(address.path)) as database:
        database.execute(f"INSERT INTO drains (rowid, {COLUMNS}) VALUES (-4, {', '.join('?' * 8)})", GOOD)
        database.commit()
    assert read_log(address)["drains"].frame["_line"].to_list() == [1]


def test_tables_are_found_like_sheets(shop, tmp_path):
    script = (
        f'CREATE TABLE Drains ({COLUMNS}); CREATE TABLE USAGE (unit, date, hours); CREATE TABLE "other ""one" (x)'
    )
    address = shop(script, [GOOD])
    tables = read_log(address)
    assert list(tables) == ["drains", "usage"]
    assert tables["drains"].source == "shop.db[Drains]"
    assert read_log(tmp_path / "shop.db").keys() == tables.keys()
    assert read_table(address, "usage").frame.is_empty()
    assert read_table(source_address('sqlite:shop.db#other "one', tmp_path), "oils").headers == ("x",)
    (tmp_path / "shop.db").rename(tmp_path / "shop")
    assert read_log(tmp_path / "shop").keys() == tables.keys()


def test_a_query(shop):
    query = "select unit_id, drained_on, oil_hours * 60 as 'hours min' from drains where rider = 'AB' -- no more;"
    table = read_log(shop("", [("F2", *GOOD[1:]), GOOD], query))["drains"]
    assert table.source == "shop.db[query]"
    assert table.frame.drop("drained_on").rows() == [("F1", "630", 1), ("F2", "630", 2)]


def test_rows_without_content_are_no_rows(shop):
    table = read_log(shop("", [GOOD, (None, "", " ", *[None] * 5)]))["drains"]
    assert table.frame.height == 1


def test_the_digest_is_of_the_rows(shop, tmp_path):
    address = shop("", [GOOD])
    first = read_log(address)["drains"].sha256
    shop("CREATE TABLE more (x); VACUUM")
    assert read_log(address)["drains"].sha256 == first
    shop("", [GOOD])
    assert read_log(address)["drains"].sha256 != first


@pytest.mark.parametrize("mode", ["wal", "delete"])
def test_reading_leaves_no_trace(shop, tmp_path, mode):
    address = shop(f"PRAGMA journal_mode = {mode}; CREATE TABLE drains ({COLUMNS})", [GOOD])
    before = address.path.read_bytes(), address.path.stat().st_mtime_ns
    read_log(address)
    assert (address.path.read_bytes(), address.path.stat().st_mtime_ns) == before
    assert [item.name for item in tmp_path.iterdir()] == ["shop.db"]


def test_rows_that_wait_in_the_write_ahead_log_are_read(shop):
    address = shop(f"PRAGMA journal_mode = wal; CREATE TABLE drains ({COLUMNS})", [GOOD])
    with closing(sqlite3.connect(address.path)) as writer:
        writer.execute(f"INSERT INTO drains VALUES ({', '.join('?' * 8)})", ("F2", *GOOD[1:]))
        writer.commit()
        assert read_log(address)["drains"].frame.height == 2


def test_a_query_that_writes_is_refused(shop):
    address = shop("", [GOOD])
    for query in ("with x as (select 1) delete from drains", "select 1) ; drop table drains; --"):
        with pytest.raises(SourceError):
            read_table(source_address(f"sqlite:{address.path}#{query}"), "drains")
    assert read_log(address)["drains"].frame.height == 1


def test_a_locked_database_is_said_to_be_locked(shop, monkeypatch):
    monkeypatch.setattr(sqlite_file, "LOCK_SECONDS", 0.05)
    address = shop("", [GOOD])
    with closing(sqlite3.connect(address.path, isolation_level=None)) as writer:
        writer.execute("BEGIN EXCLUSIVE")
        with pytest.raises(SourceError, match="locked by another program"):
            read_log(address)


def test_a_lock_that_ends_is_waited_for(shop):
    address = shop("", [GOOD])
    writer = sqlite3.connect(address.path, isolation_level=None, check_same_thread=False)
    writer.execute("BEGIN EXCLUSIVE")
    timer = threading.Timer(0.3, writer.close)
    timer.start()
    try:
        assert read_log(address)["drains"].frame.height == 1
    finally:
        timer.join()


def test_a_query_without_end_is_ended(shop, monkeypatch):
    monkeypatch.setattr(sqlite_file, "QUERY_SECONDS", 0.2)
    endless = "with recursive n(x) as (select 1 union all select x + 1 from n) select count(*) as unit from n"
    with pytest.raises(SourceError, match=r"takes longer than 0\.2 s"):
        read_log(shop("", [GOOD], endless))


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("drain", "no table named drain; the tables there are drains; is drains meant"),
        ("quite other", "the tables there are drains$"),
        ("select missing from drains", "query fails .*no such column: missing"),
        ("select * from nowhere", "query fails .*no such table"),
    ],
)
def test_what_is_not_there_is_said(shop, part, said):
    with pytest.raises(SourceError, match=said):
        read_log(shop("", [GOOD], part))


def test_databases_without_drains(shop):
    with pytest.raises(SourceError, match="no table named drains; the tables there are other;"):
        read_log(shop("CREATE TABLE other (x)"))


def test_drains_without_rows(shop):
    with pytest.raises(SourceError, match=r"shop.db: no row in it"):
        read_log(shop())


@pytest.mark.parametrize("content", [b"unit,date\n", b"SQLite format 3\x00" + b"\xff" * 200, b"SQLite format 3"])
def test_files_that_are_no_database(tmp_path, content):
    path = tmp_path / "shop.db"
    path.write_bytes(content)
    for address in (path, source_address(f"sqlite:{path}#drains")):
        with pytest.raises(SourceError, match=r"SQLite database|damaged|encrypted"):
            read_log(address)


def test_a_damaged_database_is_said_to_be_damaged(shop):
    address = shop("", [GOOD] * 2000)
    content = bytearray(address.path.read_bytes())
    content[4096:] = b"\x5a" * (len(content) - 4096)
    address.path.write_bytes(content)
    with pytest.raises(SourceError, match="damaged"):
        read_log(address)


def test_a_missing_file(tmp_path):
    with pytest.raises(SourceError, match="no such file"):
        read_log(source_address("sqlite:nowhere.db#drains", tmp_path))
    assert not list(tmp_path.iterdir())


def test_many_rows_come_in_pieces(shop, monkeypatch):
    monkeypatch.setattr(sqlite_file, "_PIECE", 7)
    rows = [(f"F{n}", *GOOD[1:2], n / 2, *GOOD[3:]) for n in range(1, 31)]
    frame = read_log(shop("", rows))["drains"].frame
    assert frame["unit_id"].to_list() == [f"F{n}" for n in range(1, 31)]
    assert frame["oil_hours"].cast(pl.Float64).to_list() == [n / 2 for n in range(1, 31)]
    assert frame["_line"].to_list() == list(range(1, 31))


def test_a_heading_that_is_no_text_is_said(shop):
    address = shop("", [GOOD])
    address.path.write_bytes(address.path.read_bytes().replace(b"oil_grade", b"oil_gr\xa5de"))
    with pytest.raises(SourceError, match="a name in it is no UTF-8 text"):
        read_log(address)


def test_a_cell_that_is_too_large_is_said(shop, monkeypatch):
    monkeypatch.setattr(sqlite_file, "LONGEST_CELL", 1_000_000)
    with pytest.raises(SourceError, match="holds a cell of more than 1 MB"):
        read_log(shop("", [(*GOOD[:7], b"x" * 2_000_000)]))
