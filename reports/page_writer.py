"""report.html: one self-contained page, the answer first and the evidence after it."""

from __future__ import annotations

from pathlib import Path

from matplotlib.figure import Figure

from pipeline.plan_result import PlanResult
from reports.page import words
from reports.page.backtest_section import backtest_section
from reports.page.channel_sections import channel_section
from reports.page.drain_evidence import drain_evidence
from reports.page.environment import inlined_script, inlined_style, page_environment
from reports.page.first_screen import first_screen
from reports.page.hours_pictures import MOST_UNITS, hours_pictures
from reports.page.link_sections import link_sections
from reports.page.rater_section import rater_section
from reports.page.sample_rows import sample_rows
from reports.page.service_rows import ServiceRow, service_rows
from reports.page.settings_rows import assumptions, setting_rows
from reports.page.spring_sections import spring_sections
from reports.page.trade_words import CAUTIONS, HOW_TO_LOOK, INSPECT_CAUTION, SCALES, SET_BY_MEANING
from reports.page.turned_section import turned_section
from reports.page.unit_names import unit_names
from reports.page.unit_sections import unit_sections, units_out_of_service


def write_page(result: PlanResult, path: Path) -> None:
    """Write report.html; the same result gives the same bytes."""
    path.write_bytes(render_page(result).encode("utf-8", "replace"))


def render_page(result: PlanResult) -> str:
    """The page as text: no network request, all text from the log escaped, the same bytes every time."""
    figure = Figure()
    script, script_digest = inlined_script()
    names = unit_names(result)
    holding = backtest_section(figure, result.backtest)
    rows = service_rows(result.next_service, names, result.as_of)
    why = {
        names.of(unit_id, site): words.sentence(text or "")
        for unit_id, site, text in result.unit_reasons.select("unit_id", "site", "why").iter_rows()
    }
    evidence = drain_evidence(result.channels, names)
    return (
        page_environment()
        .get_template("page.html")
        .render(
            result=result,
            as_of=result.as_of,
            first=first_screen(result, rows, names, why, evidence, holding),
            rows=rows,
            choices=_choices(rows),
            many_sites=len({row.site for row in rows}) > 1,
            hours_pictures=hours_pictures(figure, rows, result.as_of),
            most_drawn=MOST_UNITS,
            channels=[channel_section(figure, channel, result.settings.accepted_risk) for channel in result.channels],
            backtest=holding,
            next_samples=sample_rows(result.next_samples, rows, names),
            turned=turned_section(figure, result.trust, {row.name for row in rows}, result.as_of),
            raters=rater_section(figure, result.trust),
            links=link_sections(result.trust),
            springs=spring_sections(figure, result.springs),
            fleet_intervals=list(result.fleet_intervals.iter_rows(named=True)),
            units=unit_sections(figure, result, rows, names, why, evidence),
            out_of_service=units_out_of_service(result, rows, names),
            held_back=list(result.held_back.iter_rows(named=True)),
            remarks={
                kind: list(result.remarks.filter(result.remarks["kind"] == kind).iter_rows(named=True))
                for kind in ("asked", "note")
            },
            settings=setting_rows(result.settings),
            assumptions=assumptions(result.settings),
            scales=SCALES,
            how_to_look=HOW_TO_LOOK,
            cautions=CAUTIONS,
            inspect_caution=INSPECT_CAUTION,
            set_by_meaning={words.SET_BY[name]: meaning for name, meaning in SET_BY_MEANING.items()},
            style=inlined_style(),
            script=script,
            script_digest=script_digest,
        )
    )


def _choices(rows: tuple[ServiceRow, ...]) -> dict[str, list[str]]:
    """What the table can be narrowed to: only columns with two values or more."""
    found = {
        "Standing": sorted({row.standing for row in rows}),
        "Site": sorted({row.site for row in rows if row.site is not None}),
        "Spring": sorted({row.spring_type for row in rows if row.spring_type is not None}),
        "Set by": sorted({row.set_by_words for row in rows}),
    }
    return {name: values for name, values in found.items() if len(values) > 1}
