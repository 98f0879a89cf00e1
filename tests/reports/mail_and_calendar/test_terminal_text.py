"""What a terminal says: every unit with work is named, and the counts add up."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from draincurve.reports.content.fleet_counts import AHEAD_DAYS
from draincurve.reports.content.sections.work_order import WorkSite
from draincurve.reports.content.work_text import INSPECT
from draincurve.reports.mail_and_calendar.terminal_text import MOST_INSPECTED, MOST_LISTED, terminal_text
from draincurve.reports.mail_and_calendar.text_sections import WIDTH


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def text(race_content) -> str:
    return terminal_text(race_content)


def test_log_and_day_come_first_then_the_headline(race_content, text):
    said = flat(text)
    assert said.startswith(f"{race_content.result.log.name}, as of ")
    assert race_content.first.headline in said
    assert max(map(len, text.splitlines())) <= WIDTH


def test_a_unit_to_inspect_has_its_machine_and_its_work(race_content, text):
    inspect = [line for line in race_content.work.lines if line.word == INSPECT]
    assert inspect
    for line in inspect:
        assert f"- {line.name} ({line.place}" in text
        assert line.task in flat(text)
    assert "Do not ride these units until the cause is found" in flat(text)
    assert "A sign stays until a later drain says no under it" in flat(text)


def test_every_unit_of_the_work_list_is_named_once(race_content, text):
    assert f"WORK LIST: {race_content.work.title}".upper() in text.upper()
    for line in race_content.work.lines:
        assert sum(row.startswith(f"- {line.name} (") or row.startswith(f"- {line.name}:") for row in
                   text.splitlines()) == 1  # fmt: skip


def test_each_site_names_what_to_inspect_there(race_content, text):
    for site in race_content.work.sites:
        inspected = [line.name for line in site.lines if line.word == INSPECT]
        part = text[text.index(f"\n{(site.name or 'Units').upper()}\n") + 1 :].split("\n- ")[1]
        assert part.startswith("Inspect first: ") is bool(inspected)
        assert all(name in part for name in inspected)


def test_a_unit_that_needs_oil_again_within_the_week_says_so(race_content):
    sites = tuple(
        replace(site, lines=tuple(replace(line, again="again before Sat 4 Jul") for line in site.lines))
        for site in race_content.work.sites
    )
    said = flat(terminal_text(replace(race_content, work=replace(race_content.work, sites=sites))))
    others = [line for line in race_content.work.lines if line.word != INSPECT]
    assert said.count("; again before Sat 4 Jul)") == len(others)


def test_every_unit_due_within_two_weeks_is_named(race_content, text):
    last = race_content.as_of + timedelta(days=AHEAD_DAYS)
    listed = {line.name for line in race_content.work.lines}
    soon = [row for row in race_content.rows if row.act_by and row.act_by <= last and row.name not in listed]
    later = text[text.index("DUE LATER") :]
    assert all(row.name in later for row in soon)
    assert len(listed) + len(soon) <= len(race_content.rows)


def test_a_long_list_is_cut_and_says_where_the_rest_is(race_content):
    line = race_content.first.inspect[0]
    many = tuple(replace(line, name=f"K{number}") for number in range(MOST_INSPECTED + 1))
    work = next(line for line in race_content.work.lines if line.word != INSPECT)
    site = WorkSite("North", (work,) * (MOST_LISTED + 3))
    longer = terminal_text(
        replace(
            race_content,
            first=replace(race_content.first, inspect=many),
            work=replace(race_content.work, sites=(site,)),
        )
    )
    assert f"- K{MOST_INSPECTED - 1} " in longer
    assert f"- K{MOST_INSPECTED} " not in longer
    assert "inspect_now.csv names them all." in flat(longer)
    assert longer.count(f"- {work.name}") == MOST_LISTED
    assert "3 more units in report.html and work_list.pdf." in flat(longer)


def test_without_a_sign_nothing_is_said_of_inspecting(race_content):
    sites = tuple(
        replace(site, lines=tuple(line for line in site.lines if line.word != INSPECT))
        for site in race_content.work.sites
    )
    quiet = replace(
        race_content,
        first=replace(race_content.first, inspect=()),
        work=replace(race_content.work, sites=sites),
    )
    said = terminal_text(quiet)
    assert "INSPECT NOW" not in said
    assert "to inspect, named above" not in said
