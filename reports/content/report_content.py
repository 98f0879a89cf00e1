"""What a report says, in order, before it is laid out: the page and the printed edition are two layouts of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from matplotlib.figure import Figure

from draincurve.pipeline.report import Report
from draincurve.reports.content import wording
from draincurve.reports.content.drain_evidence import DrainEvidence, drain_evidence
from draincurve.reports.content.first_screen import FirstScreen, first_screen
from draincurve.reports.content.fleet_counts import FleetCounts, SiteCounts, fleet_counts, site_counts
from draincurve.reports.content.hours_pictures import HoursPicture, hours_pictures
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.sample_rows import SampleRow, sample_rows
from draincurve.reports.content.sections.backtest_section import BacktestSection, backtest_section
from draincurve.reports.content.sections.channel_sections import ChannelSection, channel_section
from draincurve.reports.content.sections.forecast_section import ForecastSection, forecast_section
from draincurve.reports.content.sections.legs_section import LegsSection, legs_section
from draincurve.reports.content.sections.link_sections import LinkSection, link_sections
from draincurve.reports.content.sections.oils_section import OilsSection, oils_section
from draincurve.reports.content.sections.rater_section import RaterSection, rater_section
from draincurve.reports.content.sections.spring_sections import SpringSection, spring_sections
from draincurve.reports.content.sections.turned_section import TurnedSection, turned_section
from draincurve.reports.content.sections.unit_sections import UnitSection, unit_sections, units_out_of_service
from draincurve.reports.content.sections.volume_section import VolumeSection, volume_section
from draincurve.reports.content.sections.wear_section import WearSection, wear_section
from draincurve.reports.content.service_rows import ServiceRow, service_rows
from draincurve.reports.content.settings_rows import SettingRow, assumptions, setting_rows
from draincurve.reports.content.shown_units import shown_result, shows_all
from draincurve.reports.content.unit_names import UnitNames, unit_names


@dataclass(frozen=True, slots=True)
class ReportContent:
    """Sections of one report in words and pictures; `rows` come soonest due first.

    Of a large fleet rows and sections are those of the units shown, while `counts` and `sites` are of all units.
    """

    result: Report
    as_of: date
    counts: FleetCounts
    sites: tuple[SiteCounts, ...]
    first: FirstScreen
    rows: tuple[ServiceRow, ...]
    many_sites: bool
    hours_pictures: tuple[HoursPicture, ...]
    channels: tuple[ChannelSection, ...]
    backtest: BacktestSection
    next_samples: tuple[SampleRow, ...]
    wear: WearSection | None
    turned: TurnedSection
    raters: RaterSection
    links: tuple[LinkSection, ...]
    springs: tuple[SpringSection, ...]
    legs: LegsSection | None
    volume: VolumeSection | None
    oils: OilsSection | None
    forecast: ForecastSection | None
    fleet_intervals: tuple[dict[str, Any], ...]
    units: tuple[UnitSection, ...]
    out_of_service: tuple[str, ...]
    held_back: tuple[dict[str, Any], ...]
    remarks: dict[str, list[dict[str, Any]]]
    settings: tuple[SettingRow, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReportOpening:
    """The first screen of a report and what it is made from, before any other section.

    result : of a large fleet cut down to the units that are shown; counts : of all units
    """

    result: Report
    counts: FleetCounts
    names: UnitNames
    rows: tuple[ServiceRow, ...]
    evidence: DrainEvidence
    holding: BacktestSection
    first: FirstScreen

    @property
    def many_sites(self) -> bool:
        """Whether the rows are of several sites."""
        return len({row.site for row in self.rows}) > 1


def report_opening(figure: Figure, result: Report, *, changes: ReportChanges | None = None) -> ReportOpening:
    """The first screen of a report of this run.

    figure : drawn on for pictures and emptied; changes : what is different from an earlier report.
    """
    counts = fleet_counts(result.decided.next_service, result.as_of)
    shown = shown_result(result)
    names = unit_names(shown)
    holding = backtest_section(figure, shown.judged.backtest)
    rows = service_rows(shown.decided.next_service, names, shown.as_of, shown.decided.unit_reasons)
    evidence = drain_evidence(shown.judged.channels, names)
    first = first_screen(shown, rows, names, evidence, holding, counts, changes=changes)
    return ReportOpening(shown, counts, names, rows, evidence, holding, first)


def report_content(result: Report, *, changes: ReportChanges | None = None) -> ReportContent:
    """Everything that a report of this run says; one figure is drawn on and emptied for all pictures.

    changes : what is different from an earlier report, if there is one to compare with.
    """
    figure = Figure()
    sites = () if shows_all(result) else site_counts(result.decided.next_service, result.as_of)
    opening = report_opening(figure, result, changes=changes)
    result, names, rows = opening.result, opening.names, opening.rows
    why = {
        names.of(unit_id, site): wording.sentence(text or "")
        for unit_id, site, text in result.decided.unit_reasons.select("unit_id", "site", "why").iter_rows()
    }
    return ReportContent(
        result=result,
        as_of=result.as_of,
        counts=opening.counts,
        sites=sites,
        first=opening.first,
        rows=rows,
        many_sites=opening.many_sites,
        hours_pictures=hours_pictures(figure, rows, result.as_of),
        channels=tuple(
            channel_section(figure, channel, result.settings.accepted_risk) for channel in result.judged.channels
        ),
        backtest=opening.holding,
        next_samples=sample_rows(result.decided.next_samples, rows, names),
        wear=wear_section(figure, result.decided.wear, {row.name for row in rows}, result.as_of),
        turned=turned_section(figure, result.judged.trust, {row.name for row in rows}, result.as_of),
        raters=rater_section(figure, result.judged.trust),
        links=link_sections(result.judged.trust),
        springs=spring_sections(figure, result.judged.springs),
        legs=legs_section(result.judged.legs, {row.name for row in rows}, result.as_of),
        volume=volume_section(result.judged.volume, {row.name for row in rows}),
        oils=oils_section(result.judged.oils),
        forecast=forecast_section(figure, result.forecast, result.as_of),
        fleet_intervals=tuple(result.decided.fleet_intervals.iter_rows(named=True)),
        units=unit_sections(figure, result, rows=rows, names=names, why=why, evidence=opening.evidence),
        out_of_service=units_out_of_service(result, rows, names=names),
        held_back=tuple(result.log.held_back.iter_rows(named=True)),
        remarks={
            kind: list(result.log.remarks.filter(result.log.remarks["kind"] == kind).iter_rows(named=True))
            for kind in ("asked", "note")
        },
        settings=setting_rows(result.settings),
        assumptions=assumptions(result.settings),
    )
