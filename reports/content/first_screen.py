"""The first screen: what to inspect, what is due, which units are faster, and whether to trust the answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.change_lines import ChangeList, change_list
from draincurve.reports.content.drain_evidence import DrainEvidence
from draincurve.reports.content.finding_text import asked_text
from draincurve.reports.content.fleet_counts import AHEAD_DAYS, FleetCounts
from draincurve.reports.content.freshness import Freshness
from draincurve.reports.content.headline import headline, outdated_headline
from draincurve.reports.content.ratio_text import chance_text, lasting_text
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.sections.backtest_section import BacktestSection
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService, unkept_text
from draincurve.reports.content.sections.work_list import WorkList
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.trust_lines import TrustLine, trust_lines
from draincurve.reports.content.unit_names import UnitNames, anchor
from draincurve.schemas.next_service_table import FASTER, SLOWER

FEWEST_SHOWN = 3
MOST_SHOWN = 8
MOST_FASTER = 5


@dataclass(frozen=True, slots=True)
class DueLine:
    """One unit of the list of what is due next; site : only if the fleet has several."""

    row: ServiceRow
    when: str
    away: str
    detail: str
    site: str
    inspect: str


@dataclass(frozen=True, slots=True)
class InspectLine:
    """One unit with a sign that means: inspect now.

    place : machine, position, and the site if the fleet has several.  rides : when it rides next. Both may be empty.
    """

    name: str
    anchor: str
    in_service: bool
    place: str
    signs: str
    seen_on: str
    rides: str

    @property
    def name_and_place(self) -> str:
        """The name, and where the unit is as far as that is known."""
        return f"{self.name} ({self.place})" if self.place else self.name

    @property
    def place_and_rides(self) -> str:
        """Where the unit is, and when it rides next, as far as they are known."""
        return "; ".join(part for part in (self.place, self.rides) if part)

    @property
    def seen_and_rides(self) -> str:
        """When the sign was seen, and when the unit rides next."""
        return f"seen {self.seen_on}; {self.rides}" if self.rides else f"seen {self.seen_on}"


@dataclass(frozen=True, slots=True)
class StandingLine:
    """One unit called faster than the fleet; lasts, between : how long its oil lasts, and the range, in words.

    evidence : how often its drains and the others' were past the limit, and the chance that it is so.
    """

    row: ServiceRow
    lasts: str
    between: str
    evidence: str

    @property
    def text(self) -> str:
        """How long oil lasts, with the range in words and both in figures."""
        between = f" ({self.between})" if self.between else ""
        return f"oil lasts {self.lasts}{between}, {self.row.ratio_text}"


@dataclass(frozen=True, slots=True)
class FirstScreen:
    """The first screen in words; `faster_more` and `too_few` count units that are not listed.

    due_more : how many are due after those that are listed; empty where none is.  asked : how many questions there
    are; empty without one.  outdated_text : what to know where the log may be out of date, else empty.  unkept :
    bookings that cannot be kept, else empty
    """

    headline: str
    outdated_text: str
    unkept: str
    asked: str
    inspect: tuple[InspectLine, ...]
    due: tuple[DueLine, ...]
    due_more: str
    faster: tuple[StandingLine, ...]
    faster_more: int
    slower: tuple[ServiceRow, ...]
    too_few: int
    changes: ChangeList | None
    trust: tuple[TrustLine, ...]


def first_screen(
    result: PlanResult,
    rows: Sequence[ServiceRow],
    *,
    work: WorkList,
    names: UnitNames,
    evidence: DrainEvidence,
    backtest: BacktestSection,
    counts: FleetCounts,
    fresh: Freshness,
    changes: ReportChanges | None,
    unkept: Sequence[BookedOutOfService] = (),
) -> FirstScreen:
    """The first screen of a run.

    rows : soonest due first.  work : the work list of these rows.  counts : of the whole fleet, of which the rows are
    all or the first.  changes : since an earlier report, if any.  unkept : units booked and not in service. In a log
    that may be out of date, units that only estimated hours call due are counted and not listed.
    """
    many_sites = len({row.site for row in rows}) > 1
    inspect = _inspect_lines(result, rows, names=names, many_sites=many_sites, whole=len(rows) == counts.units)
    named = inspect[: result.described.processing.inspected_units]
    signs = {line.name: line.signs for line in inspect}
    ahead = [row for row in rows if _due_within(row, AHEAD_DAYS, as_of=result.as_of)]
    listed = [row for row in rows if not (fresh.outdated and row.due_by_estimate)]
    silent = [row for row in rows if fresh.outdated and row.due_by_estimate]
    estimated = len(silent)
    shown = listed[: min(MOST_SHOWN, max(len(ahead) - estimated, FEWEST_SHOWN))]
    faster = sorted((row for row in rows if row.standing == FASTER), key=lambda row: row.hours_ratio or 1.0)
    return FirstScreen(
        headline=outdated_headline(fresh, listed, signs)
        if fresh.outdated
        else headline(counts, work if len(rows) == counts.units else None, len(inspect), as_of=result.as_of),
        outdated_text=_outdated_text(fresh, estimated) if fresh.outdated else "",
        unkept=unkept_text(unkept, as_of=result.as_of),
        asked=asked_text(result.log),
        inspect=named,
        due=tuple(
            _due_line(row, result.as_of, signs=signs.get(row.name, ""), many_sites=many_sites) for row in shown
        ),
        due_more=_due_more(counts, [row for row in (*silent, *shown) if row.name not in signs]),
        faster=tuple(
            StandingLine(
                row,
                *lasting_text(row),
                f"{evidence.sentence(row.name)} {chance_text(row, ratio=result.settings.standing.ratio)}".strip(),
            )
            for row in faster[:MOST_FASTER]
        ),
        faster_more=max(0, len(faster) - MOST_FASTER),
        slower=tuple(row for row in rows if row.standing == SLOWER),
        too_few=counts.too_few,
        changes=change_list(changes, names, in_service=frozenset(row.name for row in rows), as_of=result.as_of),
        trust=(
            *_inspect_more(len(inspect) - len(named)),
            *_source_lines(fresh),
            *trust_lines(result, rows, counts),
            TrustLine("Earlier predictions", backtest.plain, backtest.warning, link="backtest"),
        ),
    )


def _due_within(row: ServiceRow, days: int, *, as_of: date) -> bool:
    """Due within these days; a unit without a date counts as due, because unknown is never safe."""
    return row.due_now or row.act_by is None or row.act_by <= as_of + timedelta(days=days)


def _due_more(counts: FleetCounts, named: Sequence[ServiceRow]) -> str:
    """How many units are due within two weeks or have no date, besides those to inspect, which are named above.

    named : units without a sign that are shown, or due by estimate only
    """
    undated = counts.more_undated - sum(row.act_by is None and not row.due_now for row in named)
    dated = counts.more_ahead - len(named) - undated
    kinds = ((dated, "within two weeks"), (undated, "without a date"))
    more = " and ".join(f"{wording.grouped(count)} more {kind}" for count, kind in kinds if count > 0)
    return f"{more}." if more else ""


def _outdated_text(fresh: Freshness, estimated: int) -> str:
    """The reason for the question, and the units that are not listed because of it."""
    by_estimate = (
        f" By hours estimated since, {wording.counted(estimated, 'unit')} would be due; they are not listed here. "
        "Bring drains and usage up to date; until then treat every unit as due."
    )
    return f"{fresh.explanation}{by_estimate if estimated else ''}"


def _source_lines(fresh: Freshness) -> tuple[TrustLine, ...]:
    """The newest entry of each source, and the sites that write no more."""
    text = " ".join(part for part in (fresh.ages, *fresh.sites) if part)
    return (TrustLine("Newest entries", text, warning=fresh.outdated or bool(fresh.sites)),) if text else ()


def _due_line(row: ServiceRow, as_of: date, *, signs: str, many_sites: bool) -> DueLine:
    act_by = None if row.due_now else row.act_by
    estimated = ", hours estimated" if row.estimated and row.hours_left is not None else ""
    set_by = "" if row.set_by is None else f", set by {row.set_by_text}"
    if row.no_hours_by_wear:
        set_by = ": inspect and measure before the next ride"
    rides = row.ride_text(as_of) if row.due_now else ""
    return DueLine(
        row=row,
        when=row.due_text(as_of),
        away="" if act_by is None else wording.days_away(act_by, as_of),
        detail=" · ".join(part for part in (f"{row.left_text}{set_by}{estimated}", rides) if part),
        site=row.site if many_sites and row.site else "",
        inspect=signs,
    )


def _inspect_lines(
    result: PlanResult, rows: Sequence[ServiceRow], *, names: UnitNames, many_sites: bool, whole: bool
) -> tuple[InspectLine, ...]:
    """whole : whether the rows are of the whole fleet, so that a unit without a row is not in service."""
    in_service = {row.name: row for row in rows}
    lines = []
    for cells in result.decided.inspect_now.iter_rows(named=True):
        name = names.of(cells["unit_id"], cells["site"])
        row = in_service.get(name)
        location = row.location if row else ("not in service" if whole else "")
        place = (location, (cells["site"] or "") if many_sites else "")
        lines.append(
            InspectLine(
                name=name,
                anchor=anchor(name),
                in_service=row is not None,
                place=", ".join(part for part in place if part),
                signs=str(cells["signs"]),
                seen_on=wording.seen_day(wording.as_date(cells["drained_on"]), result.as_of),
                rides="" if row is None else row.ride_text(result.as_of),
            )
        )
    return tuple(lines)


def _inspect_more(more: int) -> tuple[TrustLine, ...]:
    """Where the units to inspect are named that the first screen does not name."""
    if not more:
        return ()
    text = f"{wording.counted(more, 'more unit')} to inspect now, named in inspect_now.csv with all the others."
    return (TrustLine("Inspect now", text, warning=True),)
