"""The bytes of a text file decoded: UTF-8, UTF-16 or Windows-1252, and the lines whose bytes are no such text."""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from draincurve.schemas.errors import SourceError

_LETTERS = "äöüÄÖÜß àâæçéèêëîïôœùû ÀÂÆÇÉÈÊËÎÏÔŒÙÛ áíóúñÁÍÓÚÑ¿¡ ìòÌÒ åøÅØ ãõÕ šžŠŽ °½¼¾²³µ·–—‘’“”„…€£§«»±×´ªº" + "\xa0"
_USUAL = frozenset(_LETTERS.replace(" ", "").encode("cp1252"))
"""Bytes that shops write in Windows-1252; any other one is more likely damage."""

_UNKNOWN = "\ufffd"
_BAD_BYTE = re.compile("[\x00\udc80-\udcff]")
_UTF8_LETTER = re.compile("[^\x00-\x7f\udc80-\udcff]")
_UNUSUAL = re.compile(f"[^\x01-\x7f{re.escape(_LETTERS)}]")
_UTF8_AMONG = "holds a UTF-8 letter in a file that is Windows-1252 text: type the letter again"
_LOST_BYTE = "a byte is lost or added here, so nothing from here on is read: save the file again, from its program"
_NUL = "holds a NUL byte: delete it, or type the row again"
_OUT_OF_STEP = f"[{''.join(chr(code << 8) for code in range(0x20, 0x7F))}]{{3}}"
"""Letters of ASCII whose two bytes belong to two letters, as all do behind a byte that is lost."""
_SAMPLE = 4_000
_FEWEST_LETTERS = 8
_MOST_BAD_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class DecodedText:
    """The text of a file.

    utf8 : all of it in UTF-8, without byte order mark; a byte that is no text is U+FFFD
    encoding : codec that writes it. mark : the byte order mark, as the text that the codec writes as such
    notes : what had to be assumed
    bad_lines : why a line, counted from 1, is not read, for each line with bytes that are no text
    """

    utf8: bytes
    encoding: str
    mark: str = ""
    notes: tuple[str, ...] = ()
    bad_lines: Mapping[int, str] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """All of it as text."""
        return self.utf8.decode()


def decoded_text(content: bytes, path: Path) -> DecodedText:
    """The text of a file: by its byte order mark, else UTF-16 where it is plain, else UTF-8, else Windows-1252.

    A few bytes that are not UTF-8 do not change the encoding of a file that has UTF-8 letters; their lines are bad.
    Raises SourceError for a file of which most lines are no text.
    """
    decoded = _decoded(content)
    bad = len(decoded.bad_lines)
    if bad and bad > _MOST_BAD_SHARE * (max(decoded.utf8.count(b"\n"), decoded.utf8.count(b"\r")) + 1):
        line, why = next(iter(decoded.bad_lines.items()))
        raise SourceError(f"{path}: is not plain text (line {line} {why.partition(':')[0]}); save it as CSV UTF-8")
    return decoded


def _decoded(content: bytes) -> DecodedText:
    for start, codec in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if content.startswith(start):
            return _utf16(content.removeprefix(start), codec, mark="\ufeff")
    plain = _plain_utf16(content[:_SAMPLE])
    if plain is not None:
        return _utf16(content, plain, mark="")
    mark = "\ufeff" if content.startswith(codecs.BOM_UTF8) else ""
    body = content.removeprefix(codecs.BOM_UTF8)
    if body.isascii() and b"\x00" not in body:
        return DecodedText(body, "utf-8", mark)
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        return _with_other_bytes(body, mark=mark)
    return _utf8(text, mark=mark)


def _plain_utf16(sample: bytes) -> str | None:
    """The UTF-16 codec of a file without byte order mark in which nearly every second byte is 0."""
    even, odd = sample[0::2], sample[1::2]
    if len(odd) < _FEWEST_LETTERS:
        return None
    high, low = even.count(0) / len(even), odd.count(0) / len(odd)
    if low > 0.8 and high < 0.1:
        return "utf-16-le"
    return "utf-16-be" if high > 0.8 and low < 0.1 else None


def _utf16(content: bytes, codec: str, *, mark: str) -> DecodedText:
    text = content.decode(codec, "replace")
    note = f"read as UTF-16{'' if mark else ', which has no byte order mark'}"
    out_of_step = _lines_with(re.compile(_OUT_OF_STEP), text)
    bad = dict.fromkeys((line for line, _ in out_of_step), _LOST_BYTE)
    why = "holds bytes that are no UTF-16 text: type the row again"
    bad |= {line: why for line, _ in _lines_with(re.compile(f"[{_UNKNOWN}\x00]"), text) if line not in bad}
    return DecodedText(text.encode(), codec, mark, (note,), bad)


def _utf8(text: str, *, mark: str) -> DecodedText:
    """Text whose bad bytes, if any, are surrogates or NUL."""
    bad = {line: _reason(letter) for line, letter in _lines_with(_BAD_BYTE, text)}
    known = _BAD_BYTE.sub(_UNKNOWN, text) if bad else text
    return DecodedText(known.encode(), "utf-8", mark, bad_lines=bad)


def _with_other_bytes(body: bytes, *, mark: str) -> DecodedText:
    """UTF-8 with bad bytes, or Windows-1252: whichever explains more of the lines that are not plain ASCII."""
    text = body.decode("utf-8", "surrogateescape")
    strange = "".join(_BAD_BYTE.findall(text)).replace("\x00", "").encode("utf-8", "surrogateescape")
    usual = sum(byte in _USUAL for byte in strange)
    with_letters, with_others = _lines_with(_UTF8_LETTER, text), _lines_with(_BAD_BYTE, text)
    if mark or len(with_letters) >= len(with_others) or 2 * usual < len(strange):
        return _utf8(text, mark=mark)
    windows = body.decode("cp1252", "replace")
    bad = {line: _UTF8_AMONG for line, _ in with_letters}
    bad |= {line: _windows_reason(letter) for line, letter in _lines_with(_UNUSUAL, windows)}
    note = "not UTF-8: read as Windows-1252; check letters with accents, or save it as CSV UTF-8"
    return DecodedText(windows.encode(), "cp1252", "", (note,), dict(sorted(bad.items())))


def _reason(letter: str) -> str:
    if letter == "\x00":
        return _NUL
    return f"holds the byte 0x{ord(letter) - 0xDC00:02X}, which is not UTF-8: type the letter again"


def _windows_reason(character: str) -> str:
    if character == "\x00":
        return _NUL
    letter = "a byte" if character == _UNKNOWN else f"'{character}'"
    return f"holds {letter} that Windows-1252 text hardly has: type the letter again"


def _lines_with(pattern: re.Pattern[str], text: str) -> list[tuple[int, str]]:
    """Lines that a pattern matches, counted from 1, with what is matched first."""
    if pattern.search(text) is None:
        return []
    lines = enumerate(io.StringIO(text, newline=""), start=1)
    return [(line, match[0]) for line, typed in lines if (match := pattern.search(typed)) is not None]
