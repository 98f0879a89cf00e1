"""The layers of the page: nothing is lost by folding, and every folded section gives its answer in its heading."""

from __future__ import annotations

import dataclasses
from collections import Counter

import pytest
from page_reader import PageReader

from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.section_headings import section_headings
from draincurve.reports.figures.svg_picture import Picture
from draincurve.reports.page.page_writer import page_html


def pictures_of(value: object) -> list[Picture]:
    """Every picture that a report holds, wherever in it."""
    if isinstance(value, Picture):
        return [value]
    if isinstance(value, list | tuple):
        return [found for item in value for found in pictures_of(item)]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        own = [item.name for item in dataclasses.fields(value) if item.name not in ("result", "partner")]
        return [found for name in own for found in pictures_of(getattr(value, name))]
    return []


@pytest.fixture(scope="module")
def read(race_page: str) -> PageReader:
    return PageReader(race_page)


def test_every_picture_of_the_report_is_on_the_page_once(race_content: ReportContent, read: PageReader) -> None:
    drawn = Counter(name for item in read.named("svg") for name in (item.get("aria-labelledby") or "").split()[:1])
    assert len(pictures_of(race_content)) == sum(drawn.values()) > 20
    assert set(drawn.values()) == {1}


def test_every_row_of_the_report_is_on_the_page(race_content: ReportContent, read: PageReader) -> None:
    """Counts of what the report holds, against rows of tables and lines of lists on the page."""
    rows = len(read.named("tr")) - len(read.named("thead"))
    tables = [
        race_content.rows, race_content.next_samples, race_content.raters.rows, race_content.raters.agreements,
        race_content.turned.lines, race_content.fleet_intervals, race_content.settings, race_content.held_back,
        race_content.result.log.accounts, race_content.result.log.accounts,
        *(channel.multiplier_rows for channel in race_content.channels),
        *(unit.drains for unit in race_content.units),
        *(pair.rows for pair in race_content.springs), *race_content.remarks.values(),
        *(link.rows for link in race_content.links), race_content.legs.rows if race_content.legs else (),
    ]  # fmt: skip
    assert rows == sum(len(table) for table in tables) > 250
    lines = [item for item in read.named("input") if item.get("type") == "checkbox"]
    assert len(lines) == len(race_content.work.lines) > 4
    assert len(read.named("article")) == len(race_content.units)


def test_every_section_is_there_and_its_heading_gives_its_answer(
    race_content: ReportContent, read: PageReader
) -> None:
    headings = section_headings(race_content)
    assert set(headings) <= set(read.values("id"))
    assert [heading.key for heading in headings.values() if not heading.answer] == []
    folds = [item for item in read.named("details") if item.get("class") == "fold"]
    assert len(folds) == len(headings) > 12
    assert not any("open" in item for item in read.named("details"))
    texts = "".join(read.texts)
    for heading in headings.values():
        assert heading.text in texts


def test_units_open_one_at_a_time_and_lead_to_each_other_without_a_script(read: PageReader, race_page: str) -> None:
    units = [item for item in read.named("details") if item.get("class") == "unit"]
    assert {item["name"] for item in units} == {"unit"}
    assert race_page.count('rel="next"') == race_page.count('rel="prev"') == len(units) - 1


def test_every_word_that_can_be_pressed_has_its_meaning(read: PageReader) -> None:
    pressed = set(read.values("popovertarget"))
    meanings = {tag["id"] for _, tag in read.tags if "popover" in tag}
    assert pressed
    assert pressed <= meanings


def test_the_answer_of_the_first_fold_follows_the_data(race_content: ReportContent) -> None:
    over = sum(row.hours_left is not None and row.hours_left <= 0 for row in race_content.rows)
    assert f"{over} of {len(race_content.rows)} units at or over it" in page_html(race_content)
