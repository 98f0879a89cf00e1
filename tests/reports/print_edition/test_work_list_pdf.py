"""work_list.pdf read back: one page for a small fleet, the same bytes every time, text is text."""

from __future__ import annotations

from dataclasses import replace

import polars as pl
from empty_pictures import empty_pictures
from invented_report import AS_OF, altered
from printed_text import page_texts, squeezed

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.print_edition.work_list_pdf import printed_work_list


def test_the_list_of_sixteen_units_is_one_page_with_every_line(race_content: ReportContent) -> None:
    pdf = printed_work_list(race_content)
    (page,) = page_texts(pdf)
    assert len(race_content.work.lines) > 4
    for line in race_content.work.lines:
        for said in (line.name, line.task, line.why, line.oil, line.amount):
            assert squeezed(said) in page
    for word, meaning in race_content.work.meanings:
        assert squeezed(word) in page
        assert squeezed(meaning) in page
    assert "1/1" in page
    assert printed_work_list(race_content) == pdf


def test_all_of_sixteen_units_with_riders_and_parts_fit_one_page(race_team: PlanResult) -> None:
    signs = race_team.decided.inspect_now.head(1).with_columns(site=pl.lit(None, pl.String))
    due = race_team.decided.next_service.with_columns(pl.lit(AS_OF).alias("due_on"), pl.lit(-1.5).alias("hours_left"))
    seen = pl.concat([signs.with_columns(unit_id=pl.lit(name)) for name in ("F02", "F05", "F07", "F10")])
    with empty_pictures():
        content = report_content(altered(race_team, next_service=due, inspect_now=seen))
    finding = "bushes: inspect and measure now; seals: look for a leak"
    sites = tuple(
        replace(site, lines=tuple(replace(line, parts=finding if number % 4 == 0 else "")
                                  for number, line in enumerate(site.lines)))
        for site in content.work.sites
    )  # fmt: skip
    full = replace(content, work=replace(content.work, sites=sites))
    (page,) = page_texts(printed_work_list(full))
    assert len(full.work.lines) == 16
    for line in full.work.lines:
        assert squeezed(f"{line.name}{line.place} · ridden by {line.rider}") in page


def test_hostile_names_are_text(hostile_content: ReportContent) -> None:
    text = "".join(page_texts(printed_work_list(hostile_content)))
    assert all(squeezed(line.task) in text for line in hostile_content.work.lines)
