"""Bytes to text: every encoding that is read, bytes that do not belong, and what is no text at all."""

from pathlib import Path

import pytest

from draincurve.pipeline.reading.sources.encodings import decoded_text
from draincurve.schemas.errors import SourceError

PATH = Path("log.csv")
TEXT = "unit,rider\nF07,Zoë\nF08,André\n"


@pytest.mark.parametrize(
    ("content", "encoding", "mark", "said"),
    [
        (TEXT.encode(), "utf-8", "", ""),
        (TEXT.encode("utf-8-sig"), "utf-8", "\ufeff", ""),
        (TEXT.encode("cp1252"), "cp1252", "", "Windows-1252"),
        (b"\xff\xfe" + TEXT.encode("utf-16-le"), "utf-16-le", "\ufeff", "UTF-16"),
        (b"\xfe\xff" + TEXT.encode("utf-16-be"), "utf-16-be", "\ufeff", "UTF-16"),
        (TEXT.encode("utf-16-le"), "utf-16-le", "", "no byte order mark"),
        (TEXT.encode("utf-16-be"), "utf-16-be", "", "no byte order mark"),
    ],
)
def test_encodings(content, encoding, mark, said):
    found = decoded_text(content, PATH)
    assert (found.text, found.encoding, found.mark, dict(found.bad_lines)) == (TEXT, encoding, mark, {})
    assert [said in note for note in found.notes] == [True] * bool(said)
    assert (found.mark + found.text).encode(found.encoding) == content, "it is written back as it came"


@pytest.mark.parametrize("byte", [b"\xe9", b"\xff", b"\xc3", b"\x81", b"\x00", b"\xed\xa0\x80"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_one_bad_byte_does_not_change_the_encoding(byte, end):
    content = (TEXT + "F09,x?y\nF10,Ines\n").encode().replace(b"?", byte).replace(b"\n", end)
    found = decoded_text(content, PATH)
    assert found.encoding == "utf-8"
    assert list(found.bad_lines) == [4]
    assert "Zoë" in found.text
    assert "again" in found.bad_lines[4]


def test_ascii_with_one_byte():
    """A usual letter makes it Windows-1252; any other byte is damage."""
    assert decoded_text(b"unit,rider\nF07,Zo\xeb\n", PATH).text == "unit,rider\nF07,Zoë\n"
    for byte in (b"\xff", b"\x81", b"\xc3", b"\xfe"):
        found = decoded_text(b"unit,rider\nF07,Zo" + byte + b"\nF08,x\n", PATH)
        assert (found.encoding, list(found.bad_lines)) == ("utf-8", [2])


def test_two_encodings_in_one_file_hold_back_the_rarer():
    windows = "F1,Zoë\nF2,René\nF3,Jörg\n".encode("cp1252")
    found = decoded_text(b"unit,rider\n" + windows + "F4,Noël\n".encode(), PATH)
    assert (found.encoding, list(found.bad_lines)) == ("cp1252", [5])
    utf8 = "F1,Zoë\nF2,René\nF3,Jörg\n".encode()
    found = decoded_text(b"unit,rider\n" + utf8 + "F4,Noël\n".encode("cp1252"), PATH)
    assert (found.encoding, list(found.bad_lines)) == ("utf-8", [5])


def test_an_unusual_byte_among_windows_letters_is_held_back():
    found = decoded_text(b"unit,rider\nF07,Zo\xeb\nF08,Ren\xe9\nF09,x\xffx\nF10,x\x81x\n", PATH)
    assert (found.encoding, list(found.bad_lines)) == ("cp1252", [4, 5])


def test_half_a_letter_of_utf16():
    found = decoded_text(b"\xff\xfe" + "unit,rider\nF07,x\n".encode("utf-16-le") + b"F", PATH)
    assert list(found.bad_lines) == [3]
    assert found.text.startswith("unit,rider\nF07,x\n")


@pytest.mark.parametrize("codec", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("begin", [60, 61, 89])
def test_a_byte_of_utf16_that_is_lost_puts_all_behind_it_out_of_step(codec, begin):
    typed = "unit,rider\nF07,Zoë\nF08,René\nF09,Brask\nF10,Brask\nF11,Brask\n".encode(codec)
    mark = "\ufeff".encode(codec)
    assert not decoded_text(mark + typed, PATH).bad_lines
    bad = decoded_text(mark + typed[:begin] + typed[begin + 1 :], PATH).bad_lines
    assert "a byte is lost" in bad[typed[:begin].decode(codec, "ignore").count("\n") + 1]


@pytest.mark.parametrize(
    "content", [bytes(range(256)) * 3, b"\x00\x01\n\x00\n\x00\n", b"\x7fELF\x00\n\x81\x00\n\xff\n\xfe\n"]
)
def test_no_text(content):
    with pytest.raises(SourceError, match="is not plain text"):
        decoded_text(content, PATH)
