"""Headed lines of text and their layout in a fixed width, for mails and terminals."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass

from draincurve.reports.content import wording
from draincurve.schemas.shown_text import shown

WIDTH = 78
_SPACES = re.compile(r"[\t\n\r\x0b\x0c\x85\u2028\u2029]+| {2,}")


@dataclass(frozen=True, slots=True)
class TextLine:
    """One line of a section; each part may be empty."""

    name: str
    text: str
    note: str = ""
    details: tuple[str, ...] = ()
    warning: bool = False


@dataclass(frozen=True, slots=True)
class TextSection:
    """A heading, its lines, and a sentence after them."""

    title: str
    lines: tuple[TextLine, ...]
    after: str = ""


def one_line(text: str) -> str:
    """Text on one line; whatever else is invisible in it is shown as an escape."""
    return shown(_SPACES.sub(" ", text)).strip()


def clean(section: TextSection) -> TextSection:
    """The section with every text of the log on one line, without marks that change the text around it."""
    lines = tuple(
        TextLine(
            one_line(line.name),
            one_line(line.text),
            one_line(line.note),
            tuple(one_line(detail) for detail in line.details),
            line.warning,
        )
        for line in section.lines
    )
    return TextSection(section.title, lines, one_line(section.after))


def ride_section(next_ride: str, unkept: str) -> list[TextSection]:
    """The next ride, and bookings that cannot be kept; none without either."""
    lines = (
        *((TextLine("", next_ride),) if next_ride else ()),
        *((cautioned("", unkept, warning=True),) if unkept else ()),
    )
    return [TextSection("Next ride" if next_ride else "Bookings", lines)] if lines else []


def cautioned(subject: str, text: str, *, warning: bool) -> TextLine:
    """A line that begins with the word Caution if it is a warning."""
    return TextLine(subject, f"Caution: {text}" if warning else text, warning=warning)


def section_text(section: TextSection) -> str:
    """The section in lines of WIDTH."""
    lines = [section.title.upper()]
    for line in section.lines:
        text = f"{line.text} ({line.note})" if line.note else line.text
        named = f"{wording.isolated(line.name)}: {text}" if line.name else text
        lines.append(wrapped(named, first="- ", later="  "))
        lines += [wrapped(detail, first="  ", later="  ") for detail in line.details]
    if section.after:
        lines.append(wrapped(section.after))
    return "\n".join(lines)


def wrapped(text: str, *, first: str = "", later: str = "") -> str:
    """Text in lines of WIDTH; first, later : what the first line and the others begin with."""
    return textwrap.fill(
        text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    )
