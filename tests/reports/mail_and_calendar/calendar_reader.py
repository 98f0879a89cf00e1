"""A plain reader of iCalendar bytes, written from RFC 5545 alone, to check the library that wrote them."""

from __future__ import annotations

import re
from datetime import date


def unfolded(content: bytes) -> list[str]:
    """Content lines; checks CRLF, the 75 octets, and that no character is cut. Source: RFC 5545, section 3.1."""
    assert content.endswith(b"\r\n")
    physical = content[:-2].split(b"\r\n")
    for line in physical:
        assert b"\r" not in line
        assert b"\n" not in line
        assert len(line) <= 75, line
        line.decode("utf-8")
    lines: list[str] = []
    for line in (raw.decode("utf-8") for raw in physical):
        if line[:1] in (" ", "\t"):
            lines[-1] += line[1:]
        else:
            lines.append(line)
    return lines


def text(value: str) -> str:
    """The value of a TEXT property. Source: RFC 5545, section 3.3.11."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), f"unescaped: {value}"
    assert not re.search(r"[\x00-\x08\x0a-\x1f\x7f]", value)
    return re.sub(r"\\([\\;,nN])", lambda match: "\n" if match[1] in "nN" else match[1], value)


def events(content: bytes) -> list[dict[str, str]]:
    """Each VEVENT as property name (without parameters) to raw value; checks nesting and that none stands twice."""
    lines = unfolded(content)
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    found: list[dict[str, str]] = []
    inside = False
    for line in lines[1:-1]:
        name, _, value = line.partition(":")
        if line == "BEGIN:VEVENT":
            assert not inside
            inside = True
            found.append({})
        elif line == "END:VEVENT":
            assert inside
            inside = False
        elif inside:
            name = name.partition(";")[0]
            assert re.fullmatch(r"[A-Z-]+", name)
            assert name not in found[-1]
            found[-1][name] = value
    assert not inside
    return found


def day(value: str) -> date:
    """A DATE value. Source: RFC 5545, section 3.3.4."""
    assert re.fullmatch(r"\d{8}", value)
    return date(int(value[:4]), int(value[4:6]), int(value[6:]))
