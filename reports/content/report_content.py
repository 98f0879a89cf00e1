"""What a report says, in order; the page, the printed edition and the mail are layouts of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.deciding import planned_rides
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.drain_evidence import DrainEvidence, drain_evidence
from draincurve.reports.content.first_screen import FirstScreen, first_screen
from draincurve.reports.content.fleet_counts import FleetCounts, SiteCounts, fleet_counts, site_counts
from draincurve.reports.content.fleet_interval_rows import FleetIntervalRow, fleet_interval_rows
from draincurve.reports.content.freshness import freshness
from draincurve.reports.content.hours_pictures import HoursPicture, hours_pictures
from draincurve.reports.content.part_findings import PartFinding, part_findings
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.sample_rows import SampleRow, sample_rows
from draincurve.reports.content.sections.backtest_section import BacktestSection, backtest_section
from draincurve.reports.content.sections.cannot_tell import CannotTell, cannot_tell
from draincurve.reports.content.sections.channel_sections import ChannelSection, channel_section
from draincurve.reports.content.sections.forecast_section import ForecastSection, forecast_section
from draincurve.reports.content.sections.legs_section import LegsSection, legs_section
from draincurve.reports.content.sections.link_sections import LinkSection, link_sections
from draincurve.reports.content.sections.oils_section import OilsSection, oils_section
from draincurve.reports.content.sections.parts_section import PartsSection, parts_section
from draincurve.reports.content.sections.rater_section import RaterSection, rater_section
from draincurve.reports.content.sections.spring_sections import SpringSection, inseparable_springs, spring_sections
from draincurve.reports.content.sections.turned_section import TurnedSection, turned_section
from draincurve.reports.content.sections.unit_sections import UnitSection, unit_sections, units_out_of_service
from draincurve.reports.content.sections.unkept_bookings import BookedOutOfService, booked_out_of_service
from draincurve.reports.content.sections.volume_section import VolumeSection, volume_section
from draincurve.reports.content.sections.wear_section import WearSection, wear_section
from draincurve.reports.content.sections.work_list import WorkList, work_list
from draincurve.reports.content.service_rows import ServiceRow, reasons_by_name, service_rows
from draincurve.reports.content.settings_rows import SettingRow, assumptions, setting_rows
from draincurve.reports.content.shown_units import WHICH, shown_result, shows_all
from draincurve.reports.content.unit_names import UnitNames, unit_names


@dataclass(frozen=True, slots=True)
class ReportContent:
    """Sections of one report in words and pictures.

    rows : soonest due first.  shown_note : which units of a large fleet have rows and sections, else empty.
    counts, sites : over all units, however few are shown; sites : only of a large fleet.
    """

    result: PlanResult
    as_of: date
    counts: FleetCounts
    sites: tuple[SiteCounts, ...]
    first: FirstScreen
    work: WorkList
    rows: tuple[ServiceRow, ...]
    shown_note: str
    hours_pictures: tuple[HoursPicture, ...]
    channels: tuple[ChannelSection, ...]
    backtest: BacktestSection
    next_samples: tuple[SampleRow, ...]
    wear: WearSection | None
    part_lives: PartsSection | None
    turned: TurnedSection
    raters: RaterSection
    links: tuple[LinkSection, ...]
    springs: tuple[SpringSection, ...]
    legs: LegsSection | None
    volume: VolumeSection | None
    oils: OilsSection | None
    forecast: ForecastSection | None
    fleet_intervals: tuple[FleetIntervalRow, ...]
    cannot_tell: tuple[CannotTell, ...]
    units: tuple[UnitSection, ...]
    out_of_service: tuple[str, ...]
    held_back: tuple[dict[str, Any], ...]
    remarks: dict[str, list[dict[str, Any]]]
    settings: tuple[SettingRow, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReportOpening:
    """The first screen and the work list of a report, and what they are made from, before any other section.

    result : of a large fleet, only the units that are shown.  counts : over all units.  parts : findings by unit.
    unkept : units that are booked and not in service.  shown_note : which units are shown, empty where all are.
    """

    result: PlanResult
    counts: FleetCounts
    names: UnitNames
    rows: tuple[ServiceRow, ...]
    parts: Mapping[str, tuple[PartFinding, ...]]
    unkept: tuple[BookedOutOfService, ...]
    shown_note: str
    work: WorkList
    evidence: DrainEvidence
    backtest: BacktestSection
    first: FirstScreen


def report_opening(figure: Figure, result: PlanResult, *, changes: ReportChanges | None = None) -> ReportOpening:
    """The first screen of a report of this run.

    figure : drawn on for pictures and emptied.  changes : since an earlier report, if any.
    """
    counts = fleet_counts(result.decided.next_service, result.as_of, inspect_now=result.decided.inspect_now)
    fresh, shown = freshness(result), shown_result(result)
    names = unit_names(shown)
    rides = planned_rides(shown.described.usage, shown.described.bookings, shown.as_of)
    rows = service_rows(
        shown.decided.next_service,
        names,
        as_of=shown.as_of,
        unit_reasons=shown.decided.unit_reasons,
        rides=rides,
    )
    parts, unkept = part_findings(shown), booked_out_of_service(result, rides)
    shown_note = _shown_note(len(rows), counts.units)
    work = work_list(
        shown, rows, names=names, parts=parts, rides=rides, fresh=fresh, unkept=unkept, shown_note=shown_note
    )
    evidence = drain_evidence(shown.judged.channels, names)
    backtest = backtest_section(figure, shown.judged.backtest)
    first = first_screen(
        shown,
        rows,
        work=work,
        names=names,
        evidence=evidence,
        backtest=backtest,
        counts=counts,
        fresh=fresh,
        changes=changes,
        unkept=unkept,
    )
    return ReportOpening(shown, counts, names, rows, parts, unkept, shown_note, work, evidence, backtest, first)


def report_content(result: PlanResult, *, changes: ReportChanges | None = None) -> ReportContent:
    """Everything that a report of this run says; pictures of the fleet are drawn on one figure, emptied each time.

    changes : since an earlier report, if there is one to compare with.
    """
    figure = Figure()
    sites = () if shows_all(result) else site_counts(result.decided.next_service, result.as_of)
    opening = report_opening(figure, result, changes=changes)
    result, names, rows = opening.result, opening.names, opening.rows
    in_service = {row.name for row in rows}
    why = reasons_by_name(result.decided.unit_reasons, names)
    channels = tuple(
        channel_section(
            figure,
            channel,
            accepted_risk=result.settings.accepted_risk,
            inseparable_springs=inseparable_springs(result.judged.springs, channel.channel),
        )
        for channel in result.judged.channels
    )
    return ReportContent(
        result=result,
        as_of=result.as_of,
        counts=opening.counts,
        sites=sites,
        first=opening.first,
        work=opening.work,
        rows=rows,
        shown_note=opening.shown_note,
        hours_pictures=hours_pictures(figure, rows, as_of=result.as_of),
        channels=channels,
        backtest=opening.backtest,
        next_samples=sample_rows(result.decided.next_samples, names, in_service=in_service),
        wear=wear_section(figure, result.decided.wear, in_service=in_service, as_of=result.as_of),
        part_lives=parts_section(result.decided.parts, names, in_service=in_service, as_of=result.as_of),
        turned=turned_section(figure, result.judged.changepoints, in_service=in_service, as_of=result.as_of),
        raters=rater_section(figure, result.judged.trust),
        links=link_sections(result.judged.trust),
        springs=spring_sections(figure, result.judged.springs),
        legs=legs_section(result.judged.legs, in_service=in_service, as_of=result.as_of),
        volume=volume_section(result.judged.volume, in_service=in_service),
        oils=oils_section(result.judged.oils),
        forecast=forecast_section(figure, result.forecast, as_of=result.as_of),
        fleet_intervals=fleet_interval_rows(result.decided.fleet_intervals),
        cannot_tell=cannot_tell(channels, result.described.left_out),
        units=unit_sections(
            result,
            rows=rows,
            names=names,
            why=why,
            evidence=opening.evidence,
            parts={name: tuple(finding.text for finding in findings) for name, findings in opening.parts.items()},
        ),
        out_of_service=units_out_of_service(result, rows, names=names, unkept=opening.unkept),
        held_back=tuple(result.log.held_back.iter_rows(named=True)),
        remarks={
            kind: list(result.log.remarks.filter(result.log.remarks["kind"] == kind).iter_rows(named=True))
            for kind in ("asked", "note")
        },
        settings=setting_rows(result.settings),
        assumptions=assumptions(result.settings, result.decided.unit_reasons),
    )


def _shown_note(rows: int, units: int) -> str:
    """Which units of a large fleet are shown; empty where all are."""
    if rows == units:
        return ""
    return (
        f"{rows} of {wording.grouped(units)} units are shown here: {WHICH}. Every unit is in next_service.csv and "
        "next_service.parquet."
    )
