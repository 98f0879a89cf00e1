"""Files that nobody would write on purpose: sound logs of every kind, broken in one or more ways."""

from __future__ import annotations

import csv
import io
import random
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import polars as pl
from openpyxl import Workbook

HEADER = (
    "unit_id",
    "drained_on",
    "oil_hours",
    "oil_grade",
    "colour_rating",
    "debris_rating",
    "spring_type",
    "rider",
    "note",
)
ROWS = [
    (f"F{place:02}", f"2026-0{1 + place % 5}-1{place % 10}", f"{4.5 + place}", "Fork 5", str(1 + place % 5),
     str(1 + place % 4), "Plain 46", "Brask", note)
    for place, note in enumerate(("", "a, b", "zähe Brühe", 'said "dark"', "", "two\nlines", "x", "", "=1+1", "last"))
]  # fmt: skip
HOSTILE_NAMES = (
    "../../x", "/etc/passwd", "a/b", "..", ".", "~/x", "C:\\x", "con", "x" * 300, "-rf", "$(x)", "{{7*7}}", "<b>&\"'",
    "'; DROP TABLE drains; --", "\u202egnp", "a\u0301", "\u0000", "\ufeffF1", "\r", "%2e%2e%2f", "#drains", "*", "?",
    "\x1b[2J",
)  # fmt: skip

Broken = Callable[[bytes, random.Random], bytes]


def sound_csv(delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\r\n").writerows([HEADER, *ROWS])
    return text.getvalue().encode(encoding)


def plain_csv(delimiter: str = ",") -> bytes:
    """Without a quotation mark in it."""
    lines = [delimiter.join(row[:8]) for row in (HEADER, *ROWS)]
    return ("\n".join(lines) + "\n").encode()


def sound_workbook() -> bytes:
    book = Workbook()
    book.active.title = "drains"
    for row in (HEADER, *ROWS):
        book.active.append(
            [float(cell) if place == 2 and cell != HEADER[2] else cell for place, cell in enumerate(row)]
        )
    usage = book.create_sheet("usage")
    usage.append(["unit_id", "date", "hours"])
    usage.append(["F01", "2026-06-01", 2])
    saved = io.BytesIO()
    book.save(saved)
    return saved.getvalue()


def sound_parquet() -> bytes:
    frame = pl.DataFrame(list(ROWS), schema=list(HEADER), orient="row")
    saved = io.BytesIO()
    frame.with_columns(pl.col("oil_hours").cast(pl.Float64), pl.col("drained_on").str.to_date()).write_parquet(saved)
    return saved.getvalue()


def sound_sqlite(folder: Path) -> bytes:
    path = folder / "sound.db"
    path.unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA page_size = 512")
        database.execute(f"CREATE TABLE drains ({', '.join(HEADER)})")
        database.executemany(f"INSERT INTO drains VALUES ({', '.join('?' * len(HEADER))})", ROWS)
        database.commit()
    content = path.read_bytes()
    path.unlink()
    return content


def flipped(content: bytes, chance: random.Random) -> bytes:
    broken = bytearray(content)
    for _ in range(chance.choice((1, 2, 8, 40))):
        broken[chance.randrange(len(broken))] = chance.randrange(256)
    return bytes(broken)


def cut(content: bytes, chance: random.Random) -> bytes:
    return content[: chance.randrange(len(content))]


def cut_in_front(content: bytes, chance: random.Random) -> bytes:
    return content[chance.randrange(len(content)) :]


def hole(content: bytes, chance: random.Random) -> bytes:
    start = chance.randrange(len(content))
    return content[:start] + content[start + chance.randrange(1, 60) :]


def with_lines_doubled(content: bytes, chance: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    return b"".join(line * chance.choice((0, 1, 1, 2, 3)) for line in lines)


def shuffled(content: bytes, chance: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    chance.shuffle(lines)
    return b"".join(lines)


def put_in(*pieces: bytes) -> Broken:
    def broken(content: bytes, chance: random.Random) -> bytes:
        for _ in range(chance.choice((1, 1, 3))):
            place = chance.randrange(len(content) + 1)
            content = content[:place] + chance.choice(pieces) + content[place:]
        return content

    return broken


def put_in_front(*pieces: bytes) -> Broken:
    return lambda content, chance: chance.choice(pieces) + content


def exchanged(content: bytes, chance: random.Random) -> bytes:
    """Separators, line ends and quotation marks replaced throughout."""
    old = chance.choice((b",", b";", b"\t", b"\r\n", b"\n", b'"', b".", b"-"))
    new = chance.choice((b",", b";", b"\t", b"|", b"\r", b"\n", b"\r\r\n", b'"', b"'", b" ", b"", b"\xa0", b"\x85"))
    return content.replace(old, new)


def recoded(content: bytes, chance: random.Random) -> bytes:
    """The whole or the second half in another encoding."""
    half = chance.choice((0, len(content) // 2))
    text = content[half:].decode("utf-8", "replace")
    return content[:half] + text.encode(
        chance.choice(("utf-16", "utf-16-le", "latin-1", "cp437", "utf-7", "utf-32")), "replace"
    )


def with_enormous_cell(content: bytes, chance: random.Random) -> bytes:
    place = content.index(b"Fork 5")
    size = chance.choice((5_000, 70_000, 1_200_000))
    return content[:place] + chance.choice((b"x", b'"', b"9", b",", b"\xc3\xa4", b"\n")) * size + content[place:]


def header_only(content: bytes, chance: random.Random) -> bytes:
    first = content.splitlines(keepends=True)[0]
    return first[: chance.choice((len(first), len(first) - 1, 3, 0))]


def without_header(content: bytes, chance: random.Random) -> bytes:
    lines = content.splitlines(keepends=True)
    return b"".join(lines[1:] if chance.random() < 0.5 else [lines[0], *lines])


def with_hostile_names(content: bytes, chance: random.Random) -> bytes:
    for _ in range(4):
        name = chance.choice(HOSTILE_NAMES).encode()
        content = content.replace(f"F{chance.randrange(10):02}".encode(), name)
    return content


TEXT_FAULTS: tuple[Broken, ...] = (
    flipped, cut, cut_in_front, hole, with_lines_doubled, shuffled, exchanged, recoded, header_only, without_header,
    with_hostile_names,
    put_in(b'"', b'""', b'"\n', b",\"", b"\"'"),
    put_in(b"\x00", b"\x00\x00\n", b"\x1a", b"\x1b", b"\x0b", b"\x0c"),
    put_in(b"\xff", b"\xc3", b"\xe2\x82", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", b"\x81"),
    put_in(b"\xef\xbb\xbf", b"\xff\xfe", b"\xe2\x80\xa8", b"\xc2\x85", b"\xe2\x80\xae"),
    put_in(b"\n\n\n", b"\r", b"\r\r", b",,,,,,,,,,,,,,,", b";;;;", b"\t\t"),
    put_in(b"1e999", b"nan", b"-inf", b"9" * 400, b"0x10", "٣".encode(), "½".encode(), b"1e-400", b"\xe2\x88\x924"),
    put_in(b"9999-99-99", b"0000-00-00", b"31.02.2026", b"2026-02-30T25:61", b"99999999", b"29.2.1900"),
    put_in_front(b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"sep=;\n", b"sep=,\r\n", b"\n\n", b"#"),
    put_in_front(b"PAR1", b"PK\x03\x04"),
    put_in_front(b"SQLite format 3\x00", b"\xd0\xcf\x11\xe0", b"\x1f\x8b", b"%PDF-1.7\n", b"<html>", b'"'),
)  # fmt: skip
BYTE_FAULTS: tuple[Broken, ...] = (
    flipped,
    cut,
    cut_in_front,
    hole,
    put_in(b"\x00", b"\xff" * 9),
    put_in_front(b"\x00"),
)


def with_parts_cut(content: bytes, chance: random.Random) -> bytes:
    """A workbook some of whose parts are missing, cut, empty, of another part, or broken XML; whole as a zip file."""
    saved = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as book, zipfile.ZipFile(saved, "w", zipfile.ZIP_DEFLATED) as broken:
        parts = {name: book.read(name) for name in book.namelist()}
        for name, part in parts.items():
            fault = chance.choice(("", "", "", "missing", "cut", "empty", "other", "flipped", "text"))
            if fault == "missing":
                continue
            changed = {
                "cut": part[: chance.randrange(len(part) + 1)],
                "empty": b"",
                "other": chance.choice(list(parts.values())),
                "flipped": flipped(part, chance),
                "text": part.replace(b"<c ", b"<c r='ZZZ99999999' ", 1).replace(b'r="A', b'r="XFD'),
            }
            broken.writestr(name, changed.get(fault, part))
    return saved.getvalue()


def malformed(count: int, seed: int, folder: Path) -> list[tuple[str, bytes]]:
    """Names and contents of broken files, spread over all kinds and faults; the same seed gives the same ones."""
    chance = random.Random(seed)
    texts = [sound_csv(), sound_csv(";"), sound_csv("\t"), sound_csv(encoding="cp1252"), plain_csv(), plain_csv(";")]
    books, columns, databases = sound_workbook(), sound_parquet(), sound_sqlite(folder)
    made: list[tuple[str, bytes]] = []
    for place in range(count):
        if place % 10 < 7:
            content = chance.choice(texts)
            for fault in chance.sample(TEXT_FAULTS, chance.choice((1, 1, 1, 2, 3))):
                content = fault(content, chance) if content else content
            if place % 70 == 0:
                content = with_enormous_cell(chance.choice(texts[:1]), chance)
            made.append((chance.choice(("log.csv", "log.csv", "log.txt", "log")), content))
        elif place % 10 == 7:
            fault = chance.choice((with_parts_cut, with_parts_cut, *BYTE_FAULTS))
            made.append(("log.xlsx", fault(books, chance)))
        elif place % 10 == 8:
            made.append(("log.parquet", chance.choice(BYTE_FAULTS)(columns, chance)))
        else:
            made.append(("log.db", chance.choice(BYTE_FAULTS)(databases, chance)))
    return made
