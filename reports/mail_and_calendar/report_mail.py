"""The first screen as a mail: a subject, a text, and the same as HTML, both made from one list of sections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from draincurve.reports.content import wording
from draincurve.reports.content.change_lines import ChangeLine, ChangeList
from draincurve.reports.content.first_screen import DueLine, FirstScreen, InspectLine, StandingLine
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.trade_words import CAUTIONS, INSPECT_CAUTION
from draincurve.reports.content.trust_lines import TrustLine
from draincurve.reports.mail_and_calendar.text_sections import (
    TextLine,
    TextSection,
    cautioned,
    clean,
    one_line,
    ride_section,
    section_text,
    wrapped,
)
from draincurve.reports.page.templates import html_templates

LONGEST_SUBJECT = 150
FILES = "<!-- attached files -->"
"""Place of the sentences on attached files. No text of a log can look like it, since each is escaped."""


@dataclass(frozen=True, slots=True)
class MailText:
    """One mail; subject : one line.  html : makes no network request."""

    subject: str
    text: str
    html: str


def report_mail(content: ReportContent) -> MailText:
    """The mail of a night with a new report."""
    first = content.first
    sections = _sections(first, next_ride=content.work.next_ride)
    foot = [f"{CAUTIONS[0]} {CAUTIONS[2]}"]
    return _mail(content.as_of, first.headline, about=about(content), sections=sections, foot=foot)


def about(content: ReportContent) -> str:
    """The log, the day of the report, and how many questions there are."""
    asked = f"; {content.first.asked}" if content.first.asked else ""
    return f"{content.result.log.name}, as of {wording.weekday(content.result.as_of)}{asked}"


def with_files(mail: MailText, *, attached: Sequence[str], left_out: Sequence[str]) -> MailText:
    """The mail with a word on its files before its last line.

    attached : names of the attached files.  left_out : sentences about files that are not attached.
    """
    sentences = [f"Attached: {wording.listed(list(attached))}."] if attached else []
    sentences = [one_line(line) for line in (*sentences, *left_out)]
    head, foot = mail.text.rsplit("\n\n", 1)
    text = "\n".join([f"{head}\n", *map(wrapped, sentences), foot])
    html = html_templates().get_template("report_mail_foot.html").render(foot=sentences)
    return MailText(mail.subject, text, mail.html.replace(FILES, html, 1))


def first_screen_html(first: FirstScreen, *, about: str) -> str:
    """The first screen as HTML to be put into another page; about : one line on the report."""
    sections = [clean(section) for section in _sections(first)]
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
    lines = (TextLine("", fault, warning=True), TextLine("", age))
    sections = [TextSection("Why", lines, "Dates in an old report do not account for riding since then.")]
    about = f"Night of {wording.weekday(night)}"
    foot = [f"{CAUTIONS[0]} {CAUTIONS[1]}"]
    return _mail(night, "There is no new report.", about=about, sections=sections, foot=foot)


def _sections(first: FirstScreen, *, next_ride: str = "") -> list[TextSection]:
    return [
        *(
            [TextSection("Is the log out of date?", (TextLine("", first.outdated_text, warning=True),))]
            if first.outdated_text
            else []
        ),
        *([_inspect(first.inspect)] if first.inspect else []),
        *ride_section(next_ride, first.unkept),
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


def _inspect(lines: Sequence[InspectLine]) -> TextSection:
    shown = tuple(TextLine(line.name_and_place, line.signs, line.seen_and_rides, warning=True) for line in lines)
    return TextSection("Inspect now", shown, INSPECT_CAUTION)


def _due(first: FirstScreen) -> TextSection:
    lines = tuple(_due_line(line) for line in first.due) or (TextLine("", "No unit is in service."),)
    return TextSection("Due next", lines, first.due_more)


def _due_line(line: DueLine) -> TextLine:
    inspect = (f"inspect: {line.inspect}",) if line.inspect else ()
    detail = f"{line.detail}, {line.site}" if line.site else line.detail
    warning = line.row.due_now or bool(inspect)
    return TextLine(line.row.name, line.when, line.away, (*inspect, detail), warning)


def _faster(first: FirstScreen) -> TextSection:
    lines = tuple(_faster_line(line) for line in first.faster)
    after = [f"{first.faster_more} more in the report."] if first.faster_more else []
    if first.slower:
        after.append(f"Slower than the fleet: {', '.join(row.name for row in first.slower)}.")
    if first.too_few:
        after.append(f"Too few drains to say: {wording.counted(first.too_few, 'unit')}.")
    none = (TextLine("", "No unit is called faster than the fleet."),)
    return TextSection("Faster than the fleet", lines or none, " ".join(after))


def _faster_line(line: StandingLine) -> TextLine:
    return TextLine(line.row.name, line.text, details=(line.evidence,) if line.evidence else ())


def _changed(changes: ChangeList) -> TextSection:
    lines = tuple(_change_line(line) for line in changes.lines) or (TextLine("", "Nothing changed."),)
    return TextSection(f"Since the report of {changes.since}", lines)


def _change_line(line: ChangeLine) -> TextLine:
    units = ", ".join(f"{unit.name} ({unit.detail})" if unit.detail else unit.name for unit in line.units)
    text = " ".join(part for part in (units, f"and {line.more} more" if line.more else "", line.text) if part)
    return cautioned(line.label, text, warning=line.warning)


def _trust(first: FirstScreen) -> TextSection:
    return TextSection("Before you act on it", tuple(_trust_line(line) for line in first.trust))


def _trust_line(line: TrustLine) -> TextLine:
    return replace(cautioned(line.subject, line.text, warning=line.warning), details=line.details)


def _mail(day: date, headline: str, *, about: str, sections: Sequence[TextSection], foot: Sequence[str]) -> MailText:
    """One list of sections as text and as HTML."""
    subject = _subject(day, headline)
    headline, about, foot = one_line(headline), one_line(about), [one_line(line) for line in foot]
    cleaned = [clean(section) for section in sections]
    html = (
        html_templates()
        .get_template("report_mail.html")
        .render(subject=subject, headline=headline, about=about, sections=cleaned, foot=foot, files=FILES)
    )
    blocks = [wrapped(headline), wrapped(about), *(section_text(section) for section in cleaned)]
    text = "\n\n".join([*blocks, "\n".join(wrapped(line) for line in foot)]) + "\n"
    return MailText(subject, text, html)
