"""What the reports of a large fleet show, against the whole tables."""

from datetime import timedelta

import polars as pl
import pytest
from invented_report import FleetShape, altered, build_report

from draincurve.pipeline.judging.legs.leg_comparison import LegResult
from draincurve.pipeline.processing import LARGE_FLEET
from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import fleet_counts, site_counts
from draincurve.reports.content.report_content import report_content
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.shown_units import shown_result
from draincurve.reports.content.unit_names import unit_names
from draincurve.reports.page.page_writer import page_html
from draincurve.reports.tables.csv_tables import write_tables

COPIES = 100


def copied(table, copies):
    """The rows again and again, each copy's units under names of their own."""
    parts = [table.with_columns(pl.col("unit_id") + f"-{copy}") for copy in range(copies)]
    return pl.concat(parts)


@pytest.fixture(scope="module")
def large():
    small = build_report(FleetShape(sites=2))
    service = copied(small.decided.next_service, COPIES).sort("due_on", nulls_last=False, maintain_order=True)
    return altered(
        small,
        processing=LARGE_FLEET,
        next_service=service,
        unit_reasons=copied(small.decided.unit_reasons, COPIES),
        drains=copied(small.described.drains, 1),
        inspect_now=copied(small.decided.inspect_now, COPIES),
        trust=(),
        legs=LegResult(),
        unit_curves=(),
    )


def test_a_fleet_that_is_not_large_is_shown_whole(race_team):
    assert shown_result(race_team) is race_team


def test_a_large_fleet_shows_what_says_something_and_says_what_it_leaves_out(large):
    shown = shown_result(large)
    assert shown.decided.next_service.height == LARGE_FLEET.shown_units == shown.decided.unit_reasons.height
    assert shown.decided.next_service["due_on"].to_list() == sorted(
        shown.decided.next_service["due_on"].to_list(), key=lambda day: (day is not None, day)
    )
    standing = "faster than the fleet"
    assert (shown.decided.next_service["standing"] == standing).sum() >= 80
    assert f"300 of {large.decided.next_service.height:,} units" in shown.warnings[0]
    assert "next_service.csv" in shown.warnings[0]


def test_counts_are_those_of_the_rows(race_team):
    rows = service_rows(race_team.decided.next_service, unit_names(race_team), as_of=race_team.as_of)
    counts = fleet_counts(race_team.decided.next_service, race_team.as_of, inspect_now=race_team.decided.inspect_now)
    week = race_team.as_of + timedelta(days=7)
    assert counts.units == len(rows)
    assert counts.now == sum(row.due_now for row in rows)
    assert counts.undated == sum(row.act_by is None and not row.due_now for row in rows)
    assert counts.soon == sum(row.due_now or row.act_by is None or row.act_by <= week for row in rows)
    assert counts.unknown_hours == sum(row.hours_on_oil is None for row in rows)
    assert counts.too_few == sum(row.standing == "too few drains" for row in rows)


def test_the_page_counts_the_whole_fleet_and_every_site(large):
    content = report_content(large)
    counts = fleet_counts(large.decided.next_service, large.as_of, inspect_now=large.decided.inspect_now)
    assert f"{counts.more_now} more are due now." in content.first.headline
    assert len(content.rows) == len(content.units) == LARGE_FLEET.shown_units
    inspect = large.decided.inspect_now.height
    assert f"Inspect {inspect} units now." in content.first.headline
    assert len(content.first.inspect) == LARGE_FLEET.inspected_units < inspect
    assert any(
        f"{inspect - LARGE_FLEET.inspected_units} more units to inspect now" in line.text
        for line in content.first.trust
    )
    sites = site_counts(large.decided.next_service, large.as_of)
    assert sum(site.units for site in sites) == large.decided.next_service.height
    assert sum(site.now for site in sites) == counts.now
    page = page_html(content)
    units = wording.grouped(large.decided.next_service.height)
    assert f"{LARGE_FLEET.shown_units} of {units} units are shown here" in page
    assert page.count("more units to inspect now") == 1
    assert len(page.encode()) < 6_000_000


def test_the_tables_of_a_large_fleet_hold_every_unit(large, tmp_path, race_team):
    write_tables(large, tmp_path)
    assert pl.read_parquet(tmp_path / "next_service.parquet").equals(large.decided.next_service)
    rows = pl.scan_csv(tmp_path / "next_service.csv").select(pl.len()).collect().item()
    assert rows == large.decided.next_service.height
    named = pl.read_csv(tmp_path / "inspect_now.csv")
    assert named.height == large.decided.inspect_now.height
    (tmp_path / "small").mkdir()
    write_tables(race_team, tmp_path / "small")
    assert not (tmp_path / "small" / "next_service.parquet").exists()
