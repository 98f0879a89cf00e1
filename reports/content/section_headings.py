"""The heading of every section of evidence, with its answer: what a reader learns without opening it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from draincurve.pipeline.judging.springs import CANNOT_TELL
from draincurve.reports.content import wording
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.channel_sections import DO_NOT_RELY, ChannelSection
from draincurve.reports.content.sections.legs_section import NONE_JUDGED
from draincurve.reports.content.sections.spring_sections import SpringSection

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class SectionHeading:
    """One section; key : its fragment name.  answer : in a few words, empty where there is nothing to say."""

    key: str
    title: str
    answer: str

    @property
    def text(self) -> str:
        """Title and answer in one line."""
        return f"{self.title}: {self.answer}" if self.answer else self.title


def section_headings(content: ReportContent) -> dict[str, SectionHeading]:
    """The headings of the sections that this report has, by key, in the order of the report."""
    named = [
        ("hours", "Hours on the oil against the interval", _hours(content)),
        ("next-samples", "What to drain next", _samples(content)),
        ("forecast", "Services and oil of the next weeks", _forecast(content)),
        *((f"channel-{channel.name}", channel.title, _channel(channel)) for channel in content.channels),
        ("wear", "Measured values and wear", _wear(content)),
        ("parts", "Parts with lives", _parts(content)),
        ("turned", "Units that have changed", _names([line.name for line in content.turned.lines], "none")),
        ("legs", "Left and right legs", _legs(content)),
        ("volume", "Oil in against oil out", _volume(content)),
        ("raters", "Raters", _raters(content)),
        ("springs", "Springs compared", _springs(content.springs)),
        ("oils", "Oils", "" if content.oils is None else wording.counted(len(content.oils.rows), "oil")),
        ("backtest", "How earlier predictions held", _backtest(content)),
        ("links", "Does the answer depend on the shape of the curve?", _links(content)),
        ("fleet-intervals", "The fleet's intervals", _fleet_intervals(content)),
        ("cannot-tell", "What the log cannot tell", _cannot_tell(content)),
        ("reading", "Ratings, words and cautions", "what each of them means"),
        ("record", "Settings and record", _record(content)),
        ("held-back", "Rows held back, rows asked about", _rows(content)),
    ]
    missing = {
        name
        for name, section in (
            ("forecast", content.forecast), ("wear", content.wear), ("parts", content.part_lives),
            ("legs", content.legs), ("volume", content.volume), ("oils", content.oils),
        )
        if section is None
    }  # fmt: skip
    return {key: SectionHeading(key, title, answer) for key, title, answer in named if key not in missing}


def _names(names: Sequence[str], nobody: str) -> str:
    """The first names, and how many more."""
    return wording.first_few(list(dict.fromkeys(names)), MOST_NAMED) if names else nobody


def _hours(content: ReportContent) -> str:
    over = sum(row.hours_left is not None and row.hours_left <= 0.0 for row in content.rows)
    return f"{over} of {wording.counted(len(content.rows), 'unit')} at or over it" if content.rows else "no unit"


def _samples(content: ReportContent) -> str:
    first = next(iter(content.next_samples), None)
    return "nothing in particular" if first is None else f"{first.name} at {first.at_text} would tell the most"


def _forecast(content: ReportContent) -> str:
    """The services of all weeks together."""
    if content.forecast is None:
        return ""
    total = next((row for row in reversed(content.forecast.rows) if row.total), content.forecast.rows[-1])
    return f"{total.cells[0]} {content.forecast.headings[0].lower()}, {total.when}"


def _channel(channel: ChannelSection) -> str:
    if channel.why_not:
        return "no fit"
    if channel.doubt:
        return DO_NOT_RELY.rstrip(".").lower()
    return f"past its limit from {channel.limit} on; its checks passed"


def _wear(content: ReportContent) -> str:
    if content.wear is None:
        return ""
    past = [row.name for quantity in content.wear.quantities for row in quantity.rows if row.past_limit]
    due = [row.name for row in content.rows if row.due_now and row.set_by == "wear"]
    worn = f"; to measure now: {_names(due, '')}" if due else ""
    return (f"past a limit: {_names(past, '')}" if past else "no reading past a limit") + worn


def _parts(content: ReportContent) -> str:
    if content.part_lives is None:
        return ""
    due = content.part_lives.due_now
    return f"{wording.counted(due, 'part')} due now" if due else "none due now"


def _legs(content: ReportContent) -> str:
    if content.legs is None:
        return ""
    if content.legs.none_differs == NONE_JUDGED:
        return "none can be judged yet"
    pairs = len(content.legs.rows)
    return f"{wording.counted(pairs, 'pair')} to look at" if pairs else "none differs more than pairs usually do"


def _volume(content: ReportContent) -> str:
    if content.volume is None:
        return ""
    urgent = [row.name for row in content.volume.rows if row.urgent]
    return f"look at {_names(urgent, '')}" if urgent else "no unit appears to lose oil"


def _raters(content: ReportContent) -> str:
    raters = content.raters
    if not raters.rows:
        return "cannot be compared"
    return wording.counted(len(raters.named), "finding") if raters.named else "nobody stands out"


def _springs(sections: Sequence[SpringSection]) -> str:
    told = [
        f"{pair.spring_type} {pair.verdict} than {pair.compared_with} "
        f"({section.title.lower()}: {pair.multiplier} its hours)"
        if pair.verdict.startswith("sheds")
        else f"{pair.spring_type} and {pair.compared_with}: {pair.verdict} ({section.title.lower()})"
        for section in sections
        for pair in section.rows
        if pair.verdict != CANNOT_TELL
    ]
    if not told:
        return "no pair can be told apart yet"
    more = len(told) - 1
    return f"{told[0]}{f'; {more} more' if more else ''}"


def _backtest(content: ReportContent) -> str:
    if content.backtest.warning:
        return "not all of them"
    if not content.backtest.channels:
        return "not tested yet"
    closer = content.backtest.closer
    return f"closer than the fleet's ratings for {wording.listed(list(closer))}" if closer else "too early to say"


def _links(content: ReportContent) -> str:
    """Hours of the three shapes, over all channels that have them."""
    spans = []
    for link in content.links:
        hours = [row.hours for row in link.rows if row.hours != wording.UNKNOWN]
        if hours:
            ordered = sorted(hours, key=lambda text: float(text.split()[0]))
            spans.append(f"{link.title.lower()} {ordered[0].removesuffix(' h')} to {ordered[-1]}")
    return "; ".join(spans) or "cannot be compared"


def _fleet_intervals(content: ReportContent) -> str:
    known = sorted(float(row.interval) for row in content.fleet_intervals if row.interval != wording.UNKNOWN)
    return f"{known[0]:.1f} to {known[-1]:.1f} h for a unit of which nothing is known" if known else "none"


def _cannot_tell(content: ReportContent) -> str:
    count = len(content.cannot_tell)
    return wording.counted(count, "thing") if count else "nothing was left out"


def _rows(content: ReportContent) -> str:
    asked = len(content.remarks["asked"]) - content.result.log.stated_signs.height
    return f"{wording.grouped(content.result.log.held_back_count)} held back, {wording.counted(asked, 'question')}"


def _record(content: ReportContent) -> str:
    changed = sum(row.changed for row in content.settings)
    return f"{wording.counted(changed, 'setting')} changed from the default" if changed else "all settings by default"
