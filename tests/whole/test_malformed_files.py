"""Hundreds of malformed files: never a traceback, never a lost row, never a path outside the output folder.

Every file is read, and goes through `check` in this process where it is refused, and now and then where it is read:
checking takes ten times as long as reading, and the file's form is the reader's matter. The count of its rows is
taken anew by other readers (the csv module, openpyxl, pyarrow, sqlite3) wherever these can read it.
"""

from __future__ import annotations

import csv
import io
import random
import re
import sqlite3
import warnings
from collections.abc import Iterable
from contextlib import closing, redirect_stderr, redirect_stdout
from datetime import date
from pathlib import Path

import openpyxl
import polars as pl
import pyarrow.parquet
import pytest
from deep_runs import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from malformed_files import HEADER, HOSTILE_NAMES, ROWS, TEXT_FAULTS, malformed
from small_logs import AS_OF, run_program, simple_log, write_tables_and_words, write_tables_only
from typer.main import get_command

from draincurve.cli import app
from draincurve.nightly import night
from draincurve.pipeline.reading import RunInputs, read_tables
from draincurve.pipeline.reading.cleaning import header_positions
from draincurve.pipeline.reading.sources import source_address
from draincurve.reports.output import report_files
from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

BATCHES, BATCH = examples(2), 100
CHECKED_EVERY = 5
MILD = ("flipped", "hole", "with_lines_doubled", "broken", "with_hostile_names")
"""Faults after which most files can still be read."""

PROGRAM = get_command(app)
ACCOUNT = re.compile(
    r"^(?P<table>\w+) \(.*\): read (?P<read>\d+) = accepted (?P<kept>\d+) \+ held back (?P<held>\d+)"
    r"(?: \((?P<no_rows>\d+) of them totals, titles or repeated headers\))?$"
)
TITLES = re.compile(r"lines? (\d+)(?: to (\d+) are titles| is a title) above the header")


def run(*words: object) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of the program; anything but an exit comes through."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), pytest.raises(SystemExit) as end:
        PROGRAM.main([str(word) for word in words], prog_name="draincurve")
    status = int(end.value.code or 0)
    assert status in (0, 1, 3)
    if status == 1:
        assert out.getvalue() == ""
        said, *to_paste = err.getvalue().splitlines()
        assert said.startswith("draincurve: ")
        assert not to_paste or to_paste[0] in ("[headers]", "[policy.headers]")
    else:
        assert err.getvalue() == ""
    return status, out.getvalue(), err.getvalue()


def check(path: Path, out: Path) -> dict[str, int]:
    """`check` of a file, held to what holds for any file; the rows read of each table, none for a file refused.

    Lines above the header, which are said to be titles, are counted under "titles".
    """
    status, said, _ = run("check", path, "--out", out, "--as-of", AS_OF)
    if status == 1:
        assert not out.exists()
        return {}
    accounts = [found for line in said.split("\n") if (found := ACCOUNT.match(line))]
    assert {one["table"] for one in accounts} >= {"drains"}
    assert all(int(one["read"]) == int(one["kept"]) + int(one["held"]) for one in accounts)
    held = sum(int(one["held"]) for one in accounts)
    assert (status == 3) == (held > sum(int(one["no_rows"] or 0) for one in accounts))
    csv.field_size_limit(10**9)  # a row held back may hold a cell as long as any
    with (out / "held_back.csv").open(newline="", encoding="utf-8") as file:
        assert sum(1 for _ in csv.reader(file)) == held + 1
    return {one["table"]: int(one["read"]) for one in accounts} | {"titles": titles_in(said)}


def titles_in(said: str) -> int:
    return sum(int(last or first) - int(first) + 1 for first, last in TITLES.findall(said))


def rows_read(path: Path, out: Path, *, checked: bool) -> dict[str, int]:
    """The rows read of each table; a file that is refused, or lacks a column, goes through `check` in any case."""
    read = only_read(path)
    if read and not checked:
        return read
    found = check(path, out)
    assert found in ({}, read)
    return found


def only_read(path: Path) -> dict[str, int]:
    try:
        tables = read_tables(RunInputs(source_address(str(path)), date.fromisoformat(AS_OF)), Settings())
        columns = {name: set(header_positions(table.typed_headers, name)) for name, table in tables.items()}
    except SourceError:
        return {}
    if not {column.name for column in DRAINS if column.required} <= columns["drains"]:
        return {}
    titles = titles_in("\n".join(tables["drains"].notes))
    return {name: table.frame.height for name, table in tables.items()} | {"titles": titles}


def everything_below(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def counts(name: str, content: bytes, path: Path) -> set[int]:
    """Rows of drains that a file may hold, counted by other readers; empty where they cannot tell."""
    if content.startswith((b"PAR1", b"PK\x03\x04", b"SQLite format 3\x00")) or name in (
        "log.xlsx",
        "log.parquet",
        "log.db",
    ):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                return {_binary_count(content, path)}
        except Exception:
            return set()
    return _text_counts(content)


def _binary_count(content: bytes, path: Path) -> int:
    if content.startswith(b"PAR1"):
        table = pyarrow.parquet.read_table(io.BytesIO(content))
        return sum(any(str(cell or "").strip() for cell in row.values()) for row in table.to_pylist())
    if content.startswith(b"SQLite"):
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
            database.text_factory = bytes
            return sum(
                any(cell not in (None, b"") for cell in row) for row in database.execute("SELECT * FROM drains")
            )
    book = openpyxl.load_workbook(io.BytesIO(content))
    return sum(any(str(cell or "").strip() for cell in row) for row in book["drains"].iter_rows(values_only=True)) - 1


def _as_text(content: bytes) -> str:
    for mark, codec in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if content.startswith(mark):
            return content[2:].decode(codec, "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _text_counts(content: bytes) -> set[int]:
    """Rows that a text may hold: its records with content less the header, for each delimiter that may be meant.

    Empty where zeros between the letters make it another encoding. With quotation marks it is every number up to that
    of the physical lines, since a stray mark encloses no rows.
    """
    text = re.sub(r"\Asep=[,;\t]\r*(\n|\Z)", "", _as_text(content), flags=re.IGNORECASE)
    if "\x00" in text:
        return set()
    found = set()
    for delimiter in ",;\t":
        records = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        try:
            cut = list(records)
        except csv.Error:
            return set()
        # control characters that separate are blanks to Python and content to Unicode's White_Space
        for content_mark in (r"\S", r"[\S\x1c-\x1f]"):
            found.add(sum(any(re.search(content_mark, cell) for cell in record) for record in cut) - 1)
    if '"' in text:
        most = sum(bool(line.strip()) for line in io.StringIO(text, newline=""))
        found |= set(range(min(found), max(most, max(found))))
    return found


def may_be(read: dict[str, int], possible: set[int]) -> bool:
    """Whether so many rows may be read; a blank line between titles is no record."""
    return any(read["drains"] + titles in possible for titles in range(read["titles"] + 1))


def sound(files: Iterable[tuple[str, bytes]], folder: Path) -> tuple[int, int]:
    """Reads files one after the other; returns how many were counted anew, and how many were refused whole."""
    counted = refused = 0
    for place, (name, content) in enumerate(files):
        home = folder / str(place)
        home.mkdir()
        path = home / name
        path.write_bytes(content)
        read = rows_read(path, home / "out", checked=place % CHECKED_EVERY == 0)
        refused += not read
        if read:
            possible = counts(name, content, path)
            counted += bool(possible)
            assert not possible or may_be(read, possible), (name, content[:2000])
        left = everything_below(home)
        assert left.pop(name) == content
        assert set(left) <= {"out/held_back.csv"}
    return counted, refused


@pytest.mark.parametrize("batch", range(BATCHES))
def test_broken_files(batch, tmp_path):
    files = malformed(BATCH, batch, tmp_path)
    assert len({content for _, content in files}) > 0.8 * BATCH
    counted, refused = sound(files, tmp_path)
    assert counted > BATCH / 6
    assert BATCH / 4 < refused < BATCH * 0.9


def tried(name: str, content: bytes, tmp_path_factory, *, checked: bool = True) -> dict[str, int]:
    """One file of a strategy; rows read of each table."""
    home = tmp_path_factory.mktemp("one")
    (home / name).write_bytes(content)
    read = rows_read(home / name, home / "out", checked=checked)
    assert set(everything_below(home)) <= {name, "out/held_back.csv"}
    return read


CELLS = st.one_of(
    st.sampled_from([cell for row in ROWS for cell in row]),
    st.sampled_from(HOSTILE_NAMES),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.floats().map(repr),
    st.integers().map(str),
    st.dates().map(str),
).map(lambda cell: cell.replace("\x00", ""))


@settings(max_examples=examples(15))
@given(
    rows=st.lists(st.lists(CELLS, min_size=1, max_size=12), min_size=1, max_size=16),
    delimiter=st.sampled_from(",;\t"),
    ends=st.sampled_from(["\n", "\r\n"]),
    header=st.permutations(HEADER),
)
def test_any_cells_under_a_sound_header_are_all_accounted_for(tmp_path_factory, rows, delimiter, ends, header):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=ends, quoting=csv.QUOTE_ALL)
    writer.writerows([header, *rows])
    read = tried("log.csv", text.getvalue().encode(), tmp_path_factory)
    filled = sum(any(re.search(r"\S", cell) for cell in row) for row in rows)
    assert read.get("drains", 0) >= filled
    if not any(re.search(r"[\n\r]", cell) for row in rows for cell in row):
        assert read.get("drains", 0) == filled


@settings(max_examples=examples(40))
@given(
    text=st.text(alphabet=st.one_of(st.sampled_from(",;\t\"\n\r 'F123-./:=\ufeff"), st.characters()), max_size=200),
    checked=st.integers(1, CHECKED_EVERY).map(lambda number: number == 1),
)
def test_any_text(tmp_path_factory, text, checked):
    header = "unit_id,drained_on,oil_hours,oil_grade,colour_rating,spring_type,rider\n"
    content = (header + text).encode("utf-8", "surrogatepass")
    read = tried("log.csv", content, tmp_path_factory, checked=checked)
    possible = _text_counts(content)
    if read and possible:
        assert may_be(read, possible)


@settings(max_examples=examples(40))
@given(
    start=st.sampled_from([b"", b"PK\x03\x04", b"PAR1", b"SQLite format 3\x00", b"\xd0\xcf\x11\xe0", b"\xff\xfe"]),
    rest=st.binary(max_size=300),
    end=st.sampled_from([b"", b"PAR1", b"PK\x05\x06" + bytes(18)]),
    name=st.sampled_from(["log", "log.csv", "log.xlsx", "log.xls", "log.ods", "log.parquet", "log.db"]),
)  # fmt: skip
def test_any_bytes(tmp_path_factory, start, rest, end, name):
    tried(name, start + rest + end, tmp_path_factory)


def written(path: Path, rows: list[dict]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(key for row in rows for key in row)))
        writer.writeheader()
        writer.writerows(rows)
    return path


def test_hostile_names_never_become_paths(tmp_path, monkeypatch):
    """Units, sites and all other names that are paths, markup or commands, through the main job and a night.

    The main job writes its pages; the night its folders of sites, whose tables are enough to see where they go.
    """
    monkeypatch.setattr(night, "write_files", write_tables_only)
    names = [name for name in HOSTILE_NAMES if name not in ("\x00", "\r")]
    rows = simple_log(2, 4, site="North")
    for place, name in enumerate(names):
        row = rows[place % 8] | {"unit_id": name, "oil_hours": 8.0}
        more = {"site": name, "spring_type": name, "oil_grade": name} if place < 3 else {}
        rows.append(row | {"rider": name, "machine": name, "note": name} | more)
    log = written(tmp_path / "log.csv", rows)
    outside = tmp_path / "inner"
    outside.mkdir()
    assert run_program("plan", log, "--as-of", AS_OF, out=outside / "out").status in (0, 3)
    (outside / "night.toml").write_text("[sources]\nlog = '../log.csv'\n[output]\nfolder = 'reports'\n")
    assert run("nightly", outside / "night.toml", "--as-of", AS_OF)[0] in (0, 3)
    assert {item.name for item in tmp_path.iterdir()} == {"log.csv", "inner"}
    assert {item.name for item in outside.iterdir()} == {"out", "night.toml", "reports"}
    table = pl.read_csv(outside / "out" / "next_service.csv", infer_schema=False)
    assert table.height > len(names) / 2
    assert not any(path.is_symlink() for path in outside.rglob("*") if path.name != "latest")


@pytest.mark.parametrize("seed", range(examples(6)))
def test_broken_logs_through_the_main_job(seed, tmp_path, monkeypatch):
    """A report, or one line and no report; read = accepted + held back in run.json too."""
    if seed % 3:
        monkeypatch.setattr(report_files, "write_files", write_tables_and_words)
    chance = random.Random(seed)
    log = written(tmp_path / "log.csv", simple_log(3, 4, seed=seed + 1))
    content = log.read_bytes()
    for fault in chance.sample([fault for fault in TEXT_FAULTS if fault.__name__ in MILD], 2):
        content = fault(content, chance)
    log.write_bytes(content)
    out = tmp_path / "out"
    status, said, _ = run("plan", log, "--out", out, "--as-of", AS_OF)
    assert {item.name for item in tmp_path.iterdir()} <= {"log.csv", "out"}
    if status == 1:
        assert not out.exists()
        return
    (account,) = (found for line in said.split("\n") if (found := ACCOUNT.match(line)))
    assert int(account["read"]) == int(account["kept"]) + int(account["held"])
    assert may_be({"drains": int(account["read"]), "titles": 0}, _text_counts(content))
    assert (out / "report.html").stat().st_size > 10_000
