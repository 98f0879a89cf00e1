"""What to do, for a terminal: what to inspect, the next ride, the whole work list, and what is due later."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import groupby

from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import AHEAD_DAYS
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.work_order import WorkLine
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trade_words import INSPECT_CAUTION, SIGN_STAYS
from draincurve.reports.content.work_text import INSPECT
from draincurve.reports.mail_and_calendar.report_mail import about
from draincurve.reports.mail_and_calendar.text_sections import (
    TextLine,
    TextSection,
    clean,
    one_line,
    ride_section,
    section_text,
    wrapped,
)

MOST_INSPECTED = 12
MOST_LISTED = 60
"""Units to inspect, and other units of the work list, that a terminal names."""
FEWEST_LATER = 3
"""Units named that come after the list, however late they are due."""


def terminal_text(content: ReportContent) -> str:
    """The log and its day, the headline and the sections below it, in lines that fit a terminal."""
    sections = (
        *_inspect(content),
        *ride_section(content.work.next_ride, content.first.unkept),
        *_work(content),
        *_later(content),
    )
    head = [wrapped(one_line(line)) for line in (about(content), content.first.headline)]
    return "\n".join([*head, *(section_text(clean(section)) for section in sections)])


def _inspect(content: ReportContent) -> Iterator[TextSection]:
    """The units to inspect, with what else is to be done to them."""
    inspect = content.first.inspect
    tasks = {line.name: line.task for line in content.work.lines}
    lines = []
    for line in inspect[:MOST_INSPECTED]:
        task = tasks.get(line.name, f"{line.signs} (seen {line.seen_on})")
        lines.append(TextLine(line.name_and_place, f"{task}; {line.rides}" if line.rides else task))
    more = " inspect_now.csv names them all." if len(inspect) > MOST_INSPECTED else ""
    if lines:
        yield TextSection("Inspect now", tuple(lines), f"{INSPECT_CAUTION} {SIGN_STAYS}{more}")


def _work(content: ReportContent) -> Iterator[TextSection]:
    """The work list site by site; of units to inspect only the names, since their work is named above."""
    work = content.work
    left = {row.name: row.left_text for row in content.rows}
    listed = [(site.name, line) for site in work.sites for line in site.lines if line.word != INSPECT]
    inspected = {site.name: [line.name for line in site.lines if line.word == INSPECT] for site in work.sites}
    above = len(work.lines) - len(listed)
    more = len(listed) - MOST_LISTED
    notes = [
        f"{above} of them {wording.plural(above, 'is', many='are')} to inspect, named above." if above else "",
        f"{wording.counted(more, 'more unit')} in report.html and work_list.pdf." if more > 0 else "",
        *work.notes,
    ]
    yield TextSection(f"Work list: {work.title}", (), " ".join(note for note in notes if note))
    by_site = {site: [line for at, line in listed[:MOST_LISTED] if at == site] for site in inspected}
    for site, lines in by_site.items():
        first = [TextLine("Inspect first", wording.listed(inspected[site]))] if inspected[site] else []
        if first or lines:
            yield TextSection(site or "Units", (*first, *(_work_line(line, left[line.name]) for line in lines)))
    if work.oil:
        yield TextSection("Oil to have ready", (TextLine("", work.oil),))


def _work_line(line: WorkLine, left: str) -> TextLine:
    name = f"{line.name} ({line.place})" if line.place else line.name
    note = "; ".join(filter(None, (left, line.again)))
    return TextLine(name, line.task, note, (line.parts,) if line.parts else ())


def _later(content: ReportContent) -> Iterator[TextSection]:
    """The units due after those of the list: all within two weeks, and at least the next few."""
    listed = {line.name for line in content.work.lines}
    dated = [row for row in content.rows if row.name not in listed and row.act_by is not None and not row.due_now]
    last = content.result.as_of + timedelta(days=AHEAD_DAYS)
    ahead = sum(row.act_by is not None and row.act_by <= last for row in dated)
    lines = tuple(_later_lines(dated[: max(ahead, FEWEST_LATER)], content))
    if lines:
        yield TextSection("Due later", lines)


def _later_lines(rows: Sequence[ServiceRow], content: ReportContent) -> Iterator[TextLine]:
    for when, units in groupby(rows, key=lambda row: row.due_text(content.result.as_of)):
        by_site: dict[str, list[str]] = {}
        for row in units:
            by_site.setdefault(row.site or "", []).append(row.name)
        names = (
            f"{site}: {wording.listed(some)}" if site else wording.listed(some) for site, some in by_site.items()
        )
        count = sum(map(len, by_site.values()))
        yield TextLine(when, "; ".join(names), wording.counted(count, "unit") if count > 3 else "")
