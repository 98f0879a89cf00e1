"""Logs whose bytes or quotation marks are wrong in one place: that row is held back, and every other row is read."""

import csv

import polars as pl
import pytest
from small_logs import AS_OF, run_program

HEADER = "unit_id,drained_on,oil_hours,oil_grade,colour_rating,debris_rating,spring_type,rider,note"


def lines(count):
    """Rows that differ in unit, day or hours, with accents in every second name."""
    riders = ("Zoë", "Brask", "André", "Ines")
    days = [f"{2022 + n // 7 // 336}-{1 + n // 7 // 28 % 12:02}-{1 + n // 7 % 28:02}" for n in range(count)]
    return [
        f"F{n % 7:02},{day},{9 + n % 5},Fork 5,{1 + n % 4},2,Plain,{riders[n % 4]},ok" for n, day in enumerate(days)
    ]


def checked(tmp_path, content):
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    done = run_program("check", path, "--out", tmp_path / "out", "--as-of", AS_OF)
    with (tmp_path / "out" / "held_back.csv").open(newline="", encoding="utf-8") as file:
        return done, list(csv.DictReader(file))


@pytest.mark.parametrize("byte", [b"\xe9", b"\xff", b"\x00", b"\xf0\x9f"])
@pytest.mark.parametrize("cell", [b"F03", b"Plain", b",ok"])
def test_one_bad_byte_holds_back_its_row(tmp_path, byte, cell):
    rows = [row.encode() for row in lines(60)]
    at = next(number for number, row in enumerate(rows) if number > 20 and cell in row)
    rows[at] = rows[at].replace(cell, cell[:-1] + byte + cell[-1:])
    done, held = checked(tmp_path, b"\n".join([HEADER.encode(), *rows]))
    assert done.status == 3
    assert "read 60 = accepted 59 + held back 1" in done.printed
    assert [row["line"] for row in held] == [str(at + 2)]
    assert "Zoë" in pl.read_csv(tmp_path / "log.csv", encoding="utf8-lossy")["rider"].to_list()


@pytest.mark.parametrize("codec", ["cp1252", "utf-16", "utf-16-le", "utf-16-be"])
def test_another_encoding_is_read_and_said(tmp_path, codec):
    done, held = checked(tmp_path, "\r\n".join([HEADER, *lines(40)]).encode(codec))
    assert "read 40 = accepted 40 + held back 0" in done.printed
    assert ("Windows-1252" if codec == "cp1252" else "UTF-16") in done.printed
    assert held == []


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-be"])
def test_what_is_behind_a_lost_byte_is_held_back_and_no_title(tmp_path, codec):
    content = "\n".join([HEADER, *lines(120)]).encode(codec)
    at = content.find("F03".encode(codec)[-6:], len(content) // 2)
    done, held = checked(tmp_path, content[:at] + content[at + 1 :])
    assert f"held back {len(held)}\n" in done.printed
    assert "a byte is lost or added here" in held[-1]["reason"]
    assert done.status == 3


@pytest.mark.parametrize("first, last", [(3, 2_700), (10, 11), (50, 130)])  # noqa: PT006
@pytest.mark.parametrize("column", [0, 4, 7, 8])
def test_two_stray_quotation_marks_swallow_nothing(tmp_path, first, last, column):
    rows = [row.split(",") for row in lines(last + 40)]
    rows[first][column] = '"' + rows[first][column]
    rows[last][column] += '"'
    done, held = checked(tmp_path, "\n".join([HEADER, *map(",".join, rows)]).encode())
    assert f"read {last + 40} = accepted" in done.printed
    assert done.status == 3
    assert str(first + 2) in [row["line"] for row in held]
    assert any(f"begins in line {first + 2}" in row["reason"] for row in held)
    copies = [row for row in held if "quotation" not in row["reason"]]
    assert copies == [], "no other row is held back"


def test_notes_of_several_lines_are_read(tmp_path):
    rows = [row.removesuffix("ok") + '"seal wept,\nwiped; ""fine""\n\nlook again"' for row in lines(30)]
    done, held = checked(tmp_path, "\n".join([HEADER, *rows]).encode())
    assert "read 30 = accepted 30 + held back 0" in done.printed
    assert held == []


def test_a_comma_in_a_cell_and_another_header_inside_hold_back_what_they_shift(tmp_path):
    rows = [f"{row[:-2]}" for row in lines(40)]
    rows[10] = rows[10].replace(",Fork 5,", ",5,Fork 5,")
    swapped = HEADER.replace("colour_rating,debris_rating", "debris_rating,colour_rating")
    done, held = checked(tmp_path, "\n".join([HEADER, *rows[:30], swapped, *rows[30:]]).encode())
    assert done.status == 3
    assert [row["line"] for row in held] == ["12", *(str(number) for number in range(32, 43))]
    assert "decimal comma" in held[0]["reason"]
    assert all("differs from the table's (line 32)" in row["reason"] for row in held[2:])
