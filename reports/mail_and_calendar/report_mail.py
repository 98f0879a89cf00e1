"""The first screen as a mail: a subject, a text, and the same as HTML, both made from one list of sections."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from draincurve.reports.content import wording
from draincurve.reports.content.change_lines import ChangeLine, ChangeList
from draincurve.reports.content.first_screen import DueLine, FirstScreen, InspectLine, StandingLine
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.trade_words import CAUTIONS, INSPECT_CAUTION
from draincurve.reports.content.trust_lines import TrustLine
from draincurve.reports.page.templates import html_templates
from draincurve.schemas.shown_text import shown

LONGEST_SUBJECT = 150
WIDTH = 78
MOST_ON_TERMINAL = 12
"""Units to inspect that a terminal names."""
FILES = "<!-- attached files -->"
"""Place of the sentences on attached files. No text of a log can look like it, since each is escaped."""
_SPACES = re.compile(r"[\t\n\r\x0b\x0c\x85\u2028\u2029]+| {2,}")


@dataclass(frozen=True, slots=True)
class MailText:
    """One mail; subject : one line.  html : makes no network request."""

    subject: str
    text: str
    html: str


@dataclass(frozen=True, slots=True)
class MailLine:
    """One line of a section; each part may be empty."""

    name: str
    text: str
    note: str = ""
    details: tuple[str, ...] = ()
    warning: bool = False


@dataclass(frozen=True, slots=True)
class MailSection:
    """A heading, its lines, and a sentence after them."""

    title: str
    lines: tuple[MailLine, ...]
    after: str = ""


def report_mail(content: ReportContent) -> MailText:
    """The mail of a night with a new report."""
    first = content.first
    sections = _sections(first, next_ride=content.work.next_ride)
    foot = [f"{CAUTIONS[0]} {CAUTIONS[2]}"]
    asked = f"; {first.asked}" if first.asked else ""
    about = f"{content.result.log.name}, as of {wording.weekday(content.as_of)}{asked}"
    return _mail(content.as_of, first.headline, about=about, sections=sections, foot=foot)


def work_text(content: ReportContent) -> str:
    """What to do, for a terminal: the headline, what to inspect, the next ride, and what is due next."""
    first = content.first
    inspect = [_inspect(first.inspect[:MOST_ON_TERMINAL])] if first.inspect else []
    if len(first.inspect) > MOST_ON_TERMINAL:
        inspect = [replace(section, after=f"{section.after} inspect_now.csv names them all.") for section in inspect]
    sections = [*inspect, *_rides(content.work.next_ride, first.unkept), _due(first)]
    return "\n".join([_wrapped(one_line(first.headline)), *(_section_text(_clean(section)) for section in sections)])


def with_files(mail: MailText, *, attached: Sequence[str], left_out: Sequence[str]) -> MailText:
    """The mail with a word on its files before its last line.

    attached : names of the attached files.  left_out : sentences about files that are not attached.
    """
    sentences = [f"Attached: {wording.listed(list(attached))}."] if attached else []
    sentences = [one_line(line) for line in (*sentences, *left_out)]
    head, foot = mail.text.rsplit("\n\n", 1)
    text = "\n".join([f"{head}\n", *map(_wrapped, sentences), foot])
    html = html_templates().get_template("report_mail_foot.html").render(foot=sentences)
    return MailText(mail.subject, text, mail.html.replace(FILES, html, 1))


def first_screen_html(first: FirstScreen, *, about: str) -> str:
    """The first screen as HTML to be put into another page; about : one line on the report."""
    sections = [_clean(section) for section in _sections(first)]
    template = html_templates().get_template("report_mail_sections.html")
    return template.render(headline=one_line(first.headline), about=one_line(about), sections=sections)


def failure_mail(night: date, fault: str, *, last_good_at: datetime | None) -> MailText:
    """The mail of a night that failed: why, and how old the last good report is.

    last_good_at : with its time zone; None if there was no good night.
    """
    if last_good_at is None:
        age = "There is no earlier report: no unit has a date from this log."
    else:
        ago = wording.days_away(last_good_at.date(), night)
        day = wording.weekday(last_good_at.date())
        age = f"The last good report is from {day}, {last_good_at:%H:%M} ({ago}). It is still in place."
    lines = (MailLine("", fault, warning=True), MailLine("", age))
    sections = [MailSection("Why", lines, "Dates in an old report do not account for riding since then.")]
    about = f"Night of {wording.weekday(night)}"
    foot = [f"{CAUTIONS[0]} {CAUTIONS[1]}"]
    return _mail(night, "There is no new report.", about=about, sections=sections, foot=foot)


def one_line(text: str) -> str:
    """Text on one line; whatever else is invisible in it is shown as an escape."""
    return shown(_SPACES.sub(" ", text)).strip()


def _sections(first: FirstScreen, *, next_ride: str = "") -> list[MailSection]:
    return [
        *(
            [MailSection("Is the log out of date?", (MailLine("", first.outdated_text, warning=True),))]
            if first.outdated_text
            else []
        ),
        *([_inspect(first.inspect)] if first.inspect else []),
        *_rides(next_ride, first.unkept),
        _due(first),
        _faster(first),
        *([_changed(first.changes)] if first.changes is not None else []),
        _trust(first),
    ]


def _subject(day: date, headline: str) -> str:
    """The day and the headline on one line; the sentences of the headline become parts in lower case."""
    parts = [part[:1].lower() + part[1:] for part in headline.rstrip(".").split(". ")]
    subject = one_line(f"Next service, {wording.day(day)}: {'; '.join(parts)}")
    return subject if len(subject) <= LONGEST_SUBJECT else f"{subject[: LONGEST_SUBJECT - 1]}…"


def _inspect(lines: Sequence[InspectLine]) -> MailSection:
    shown = tuple(MailLine(line.name, line.signs, f"seen {line.seen_on}", warning=True) for line in lines)
    return MailSection("Inspect now", shown, INSPECT_CAUTION)


def _rides(next_ride: str, unkept: str) -> list[MailSection]:
    """The next ride, and bookings that cannot be kept; none without either."""
    lines = (
        *((MailLine("", next_ride),) if next_ride else ()),
        *((_cautioned("", unkept, warning=True),) if unkept else ()),
    )
    return [MailSection("Next ride" if next_ride else "Bookings", lines)] if lines else []


def _due(first: FirstScreen) -> MailSection:
    lines = tuple(_due_line(line) for line in first.due) or (MailLine("", "No unit is in service."),)
    return MailSection("Due next", lines, first.due_more)


def _due_line(line: DueLine) -> MailLine:
    inspect = (f"inspect: {line.inspect}",) if line.inspect else ()
    detail = f"{line.detail}, {line.site}" if line.site else line.detail
    warning = line.row.due_now or bool(inspect)
    return MailLine(line.row.name, line.when, line.away, (*inspect, detail), warning)


def _faster(first: FirstScreen) -> MailSection:
    lines = tuple(_faster_line(line) for line in first.faster)
    after = [f"{first.faster_more} more in the report."] if first.faster_more else []
    if first.slower:
        after.append(f"Slower than the fleet: {', '.join(row.name for row in first.slower)}.")
    if first.too_few:
        after.append(f"Too few drains to say: {wording.counted(first.too_few, 'unit')}.")
    none = (MailLine("", "No unit is called faster than the fleet."),)
    return MailSection("Faster than the fleet", lines or none, " ".join(after))


def _faster_line(line: StandingLine) -> MailLine:
    return MailLine(line.row.name, line.text, details=(line.evidence,) if line.evidence else ())


def _changed(changes: ChangeList) -> MailSection:
    lines = tuple(_change_line(line) for line in changes.lines) or (MailLine("", "Nothing changed."),)
    return MailSection(f"Since the report of {changes.since}", lines)


def _change_line(line: ChangeLine) -> MailLine:
    units = ", ".join(f"{unit.name} ({unit.detail})" if unit.detail else unit.name for unit in line.units)
    text = " ".join(part for part in (units, f"and {line.more} more" if line.more else "", line.text) if part)
    return _cautioned(line.label, text, warning=line.warning)


def _trust(first: FirstScreen) -> MailSection:
    return MailSection("Before you act on it", tuple(_trust_line(line) for line in first.trust))


def _trust_line(line: TrustLine) -> MailLine:
    return replace(_cautioned(line.subject, line.text, warning=line.warning), details=line.details)


def _cautioned(subject: str, text: str, *, warning: bool) -> MailLine:
    return MailLine(subject, f"Caution: {text}" if warning else text, warning=warning)


def _mail(day: date, headline: str, *, about: str, sections: Sequence[MailSection], foot: Sequence[str]) -> MailText:
    """One list of sections as text and as HTML."""
    subject = _subject(day, headline)
    headline, about, foot = one_line(headline), one_line(about), [one_line(line) for line in foot]
    clean = [_clean(section) for section in sections]
    html = (
        html_templates()
        .get_template("report_mail.html")
        .render(subject=subject, headline=headline, about=about, sections=clean, foot=foot, files=FILES)
    )
    blocks = [_wrapped(headline), _wrapped(about), *(_section_text(section) for section in clean)]
    text = "\n\n".join([*blocks, "\n".join(_wrapped(line) for line in foot)]) + "\n"
    return MailText(subject, text, html)


def _clean(section: MailSection) -> MailSection:
    """The section with every text of the log on one line, without marks that change the text around it."""
    lines = tuple(
        MailLine(
            one_line(line.name),
            one_line(line.text),
            one_line(line.note),
            tuple(one_line(detail) for detail in line.details),
            line.warning,
        )
        for line in section.lines
    )
    return MailSection(section.title, lines, one_line(section.after))


def _section_text(section: MailSection) -> str:
    lines = [section.title.upper()]
    for line in section.lines:
        text = f"{line.text} ({line.note})" if line.note else line.text
        named = f"{wording.isolated(line.name)}: {text}" if line.name else text
        lines.append(_wrapped(named, first="- ", later="  "))
        lines += [_wrapped(detail, first="  ", later="  ") for detail in line.details]
    if section.after:
        lines.append(_wrapped(section.after))
    return "\n".join(lines)


def _wrapped(text: str, *, first: str = "", later: str = "") -> str:
    return textwrap.fill(
        text, WIDTH, initial_indent=first, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    )
