"""The whole page: one file, nothing fetched, everything escaped, the same bytes every time."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import polars as pl
import pytest
from empty_pictures import empty_pictures
from invented_report import HOSTILE, FleetShape, altered, build_changes, build_report, without_units
from page_part import whole_page
from page_reader import PageReader

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.page.page_writer import page_html, write_page


@pytest.mark.parametrize("fixture", ["race_page", "hostile_page"])
def test_page_is_well_formed_and_its_ids_are_unique(fixture: str, request: pytest.FixtureRequest) -> None:
    read = PageReader(request.getfixturevalue(fixture))
    assert read.faults == []
    ids = read.values("id")
    assert len(ids) == len(set(ids))


def test_every_reference_inside_the_page_has_its_target(race_page: str) -> None:
    read = PageReader(race_page)
    ids = set(read.values("id"))
    wanted = {value[1:] for value in read.values("href") if value.startswith("#")}
    wanted |= {name for value in read.values("aria-labelledby") for name in value.split()}
    wanted |= set(re.findall(r"url\(#([^)]+)\)", race_page))
    assert wanted
    assert wanted <= ids


def test_nothing_is_fetched_from_anywhere(race_page: str) -> None:
    read = PageReader(race_page)
    assert "http:" not in race_page
    assert "https:" not in race_page
    assert read.values("src") == []
    assert all(value.startswith(("#", "data:,")) for value in read.values("href"))
    assert re.findall(r"url\((?!#)", race_page) == []
    assert "@import" not in race_page
    policy = next(item["content"] for item in read.named("meta") if item.get("http-equiv"))
    assert policy is not None
    assert policy.startswith("default-src 'none'")


def test_only_our_own_script_may_run(hostile_page: str) -> None:
    read = PageReader(hostile_page)
    assert len(read.named("script")) == 1
    assert read.named("img") == []
    assert not any(name.startswith("on") for _, attributes in read.tags for name in attributes)
    assert "'unsafe-inline'" not in re.search(r"script-src ([^;]*);", hostile_page)[1]  # type: ignore[index]


@pytest.mark.parametrize("hostile", HOSTILE)
def test_a_hostile_id_is_text_on_the_first_screen_in_the_table_and_in_its_section(
    hostile_page: str, hostile: str
) -> None:
    texts = PageReader(hostile_page).texts
    assert sum(text == hostile for text in texts) >= 2
    if "<" in hostile:
        assert hostile not in hostile_page


CHANGES = build_changes(FleetShape())

PLACES = (
    "name",
    "held_back",
    "remarks",
    "why",
    "left_out",
    "level",
    "curve",
    "note",
    "rider",
    "signs",
    "warning",
)


def evil(place: str) -> str:
    return f"<script>{place}</script>"


@pytest.fixture(scope="module")
def page_evil_all_over(race_team: PlanResult) -> str:
    held, asked = pl.lit(evil("held_back")), pl.lit(evil("remarks"))
    channels = tuple(
        dataclasses.replace(
            channel,
            multipliers=tuple(dataclasses.replace(item, level=evil("level")) for item in channel.multipliers),
            curves=tuple(dataclasses.replace(item, spring_type=evil("curve")) for item in channel.curves),
        )
        for channel in race_team.judged.channels
    )
    return whole_page(
        altered(
            race_team,
            name=evil("name"),
            held_back=race_team.log.held_back.with_columns(held.alias("value"), held.alias("source")),
            remarks=race_team.log.remarks.with_columns(asked.alias("value"), asked.alias("message")),
            unit_reasons=race_team.decided.unit_reasons.with_columns(pl.lit(evil("why")).alias("why")),
            left_out=tuple(
                dataclasses.replace(item, reason=evil("left_out")) for item in race_team.described.left_out
            ),
            channels=channels,
            drains=race_team.described.drains.with_columns(
                pl.lit(evil("note")).alias("note"), pl.lit(evil("rider")).alias("rider")
            ),
            inspect_now=race_team.decided.inspect_now.with_columns(pl.lit(evil("signs")).alias("signs")),
            warnings=(evil("warning"),),
        )
    )


@pytest.mark.parametrize("place", PLACES)
def test_hostile_text_is_escaped_wherever_a_log_can_put_it(page_evil_all_over: str, place: str) -> None:
    assert evil(place) not in page_evil_all_over
    assert any(evil(place) in text for text in PageReader(page_evil_all_over).texts)


def test_same_result_same_bytes_whatever_its_timings(race_team: PlanResult, race_page: str, tmp_path: Path) -> None:
    timed = altered(race_team, timings={"fitting": 1.23})
    assert timed.timings != race_team.timings
    write_page(report_content(timed, changes=CHANGES), tmp_path / "report.html")
    assert (tmp_path / "report.html").read_bytes() == race_page.encode()


def test_every_unit_in_service_has_a_row_and_a_section(race_team: PlanResult, race_page: str) -> None:
    read = PageReader(race_page)
    units = set(race_team.decided.next_service["unit_id"])
    articles = [item["id"] for item in read.named("article")]
    links = {value[1:] for value in read.values("href")}
    assert len(articles) == len(units) == race_team.decided.next_service.height
    assert set(articles) <= links


def test_tables_have_captions_and_headers_have_scopes(race_page: str) -> None:
    read = PageReader(race_page)
    assert len(read.named("table")) == len(read.named("caption")) > 0
    assert all(item.get("scope") in ("row", "col") for item in read.named("th"))


def test_every_picture_is_named_and_described(race_page: str) -> None:
    pictures = [item for item in PageReader(race_page).named("svg") if "picture" in (item.get("class") or "")]
    assert pictures
    assert all(item["role"] == "img" and item["aria-labelledby"] for item in pictures)
    assert race_page.count("<title id=") == race_page.count("<desc id=") == len(pictures)


def test_sections_follow_the_data(race_page: str, quiet_team: PlanResult) -> None:
    quiet = whole_page(quiet_team, pictures=False)
    assert "Inspect now</button></h2>" in race_page
    assert "Inspect now</button></h2>" not in quiet
    assert "5 of 185 rows of drains held back and not used. All 40 rows of the other tables" in race_page
    assert "No row was held back." in quiet
    assert "Asked about" in race_page
    assert ">Asked about</button>" not in quiet
    assert "Do not rely on this fit." in race_page
    assert "Do not rely on this fit." not in quiet
    assert "The log cannot tell hours apart" in race_page
    assert "No costs are set" in quiet
    assert "No costs are set" not in race_page


def test_a_channel_without_a_fit_says_why_and_still_shows_its_drains(race_team: PlanResult) -> None:
    unfitted = dataclasses.replace(
        race_team.judged.channels[0],
        why_not="only one unit and one rating level",
        fleet_curve=None,
        curves=(),
        steps=None,
        multipliers=(),
        prior_movement=(),
        diagnostics=None,
        hours_slope=None,
        unit_spread=None,
    )
    page = whole_page(altered(race_team, channels=(unfitted,)))
    assert "Only one unit and one rating level." in page
    assert "180 rated drains" in page


def test_an_empty_fleet_still_makes_a_page(race_team: PlanResult) -> None:
    page = page_html(report_content(without_units(race_team)))
    assert PageReader(page).faults == []
    assert "No unit is in service." in page


def test_a_track_school_of_120_units_stays_small_and_its_sixty_due_soonest_are_drawn(
    track_school_content: ReportContent,
) -> None:
    page = page_html(track_school_content)
    assert len(page.encode()) < 3_000_000
    assert "The 60 units due soonest are drawn" in page
    assert "units 31 to 60" in page
    assert "units 61" not in page


def test_units_of_one_id_at_two_sites_stay_apart(few_units: PlanResult) -> None:
    table = few_units.decided.next_service
    first, second = table["unit_id"][0], table["unit_id"][1]

    def both(frame: pl.DataFrame) -> pl.DataFrame:
        return frame.with_columns(
            pl.when(pl.col("unit_id") == first)
            .then(pl.lit("North"))
            .when(pl.col("unit_id") == second)
            .then(pl.lit("South"))
            .otherwise("site")
            .alias("site"),
            pl.col("unit_id").replace(second, first),
        )

    page = whole_page(
        altered(
            few_units,
            next_service=both(table),
            drains=both(few_units.described.drains),
            unit_reasons=both(few_units.decided.unit_reasons),
            inspect_now=both(few_units.decided.inspect_now),
        )
    )
    texts = PageReader(page).texts
    assert f"{first} @ North" in texts
    assert f"{first} @ South" in texts
    assert len(set(PageReader(page).values("id"))) == len(PageReader(page).values("id"))


def test_the_bars_of_the_table_are_the_hours_on_one_scale_and_move_with_their_rows(
    race_team: PlanResult, race_page: str
) -> None:
    rows = race_page.partition('<table class="units-table"')[2].partition("</table>")[0].split("<tr")[2:]
    hours = {cells["unit_id"]: cells for cells in race_team.decided.next_service.iter_rows(named=True)}
    scales = set()
    for row in rows:
        name = re.search(r">(F\d+)</a>", row)
        assert name is not None
        bar = re.search(r'class="hours-bar( open)?" style="--oil: ([\d.]+)%; --at: ([\d.]+)%"', row)
        cells = hours[name[1]]
        if cells["hours_on_oil"] is None:
            assert bar is None
            continue
        assert bar is not None
        assert bool(bar[1]) == (cells["hours_on_oil_basis"] == "estimated")
        scales.add(round(float(bar[3]) / cells["interval_h"], 1))
        assert float(bar[2]) == pytest.approx(float(bar[3]) * cells["hours_on_oil"] / cells["interval_h"], abs=0.3)
        assert 0.0 < float(bar[2]) < 100.0
    assert len(rows) == len(hours)
    assert len(scales) == 1


def test_drains_of_very_many_units_are_lines_and_all_of_them_are_there() -> None:
    with empty_pictures():
        content = report_content(build_report(FleetShape(units=201, drains=900)))
    page = page_html(content)
    lines = [text for text in PageReader(page).texts if re.match(r"\d+ \w{3} \d{4}: ", text)]
    brief = [unit for unit in content.units if unit.picture is None]
    assert len(lines) == sum(len(unit.drains) for unit in brief) > 700
    assert page.count('<table class="drains">') == sum(bool(unit.drains) for unit in content.units if unit.picture)
    drain = next(unit.drains[0] for unit in brief if unit.drains and any(unit.drains[0].past))
    said = drain.rated_text(("colour", "debris"))
    assert said.startswith(f"{drain.drained_on}: {drain.oil_hours} h; colour ")
    assert said.count("▲") == sum(drain.past)
    assert any(line.startswith(said) for line in lines)
