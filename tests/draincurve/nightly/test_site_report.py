"""A report for each site out of one fit over all: nothing lost, nothing twice, names that never leave the folder."""

from __future__ import annotations

import csv
from dataclasses import fields
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from empty_pictures import empty_pictures
from hypothesis import given
from hypothesis import strategies as st

from draincurve.nightly.site_report import narrowed, narrowed_changes, site_folder, units_by_site
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_changes import FewerDrains, HeldBackRow, ReportChanges, ShrunkTable, UnitName
from draincurve.reports.content.report_content import report_content
from draincurve.reports.output.report_files import write_files
from draincurve.reports.output.run_record import run_record
from tests.reports.invented_report import altered

AS_OF = date(2026, 6, 20)
COLUMNS = (
    "unit_id", "drained_on", "oil_hours", "oil_grade", "colour_rating", "spring_type", "rider", "site", "leak",
    "filled_ml", "drained_ml",
)  # fmt: skip
SITES = {"A1": "../up", "A2": "../up", "B1": "South/yard", "B2": "South/yard", "C1": ""}


@pytest.fixture(scope="module")
def result(tmp_path_factory) -> PlanResult:
    """Two sites, a unit of no site, and F01 at both sites at once."""
    from draincurve.pipeline.reading.read_inputs import RunInputs
    from draincurve.pipeline.reading.sources.addresses import source_address
    from draincurve.pipeline.run import plan

    path = tmp_path_factory.mktemp("sites") / "drains.csv"
    rng = np.random.default_rng(2)
    with path.open("w", encoding="utf-8") as file:
        log = csv.writer(file)
        log.writerow(COLUMNS)
        units = [*SITES.items(), ("F01", "../up"), ("F01", "South/yard")]
        for number in range(5 * len(units)):
            unit, site = units[number % len(units)]
            hours = float(rng.uniform(5, 25))
            day = AS_OF - timedelta(days=9 * (1 + number // len(units)) + number % len(units))
            leak = "yes" if unit == "B1" and number < len(units) else "no"
            row = [unit, day, round(hours, 1), "Fork 5", 1 + int(hours > 8) + int(hours > 16), "Plain", "Brask", site]
            log.writerow([*row, leak, 400, 395 - number])
        log.writerow(["A1", AS_OF, -1, "Fork 5", 3, "Plain", "Brask", "../up", "no", "", ""])
    return plan(RunInputs(source_address(str(path)), AS_OF))


@pytest.fixture(scope="module")
def parts(result: PlanResult) -> dict[str | None, PlanResult]:
    return {site: narrowed(result, site, keys=keys) for site, keys in units_by_site(result).items()}


def test_every_unit_is_in_exactly_one_report(result: PlanResult, parts) -> None:
    assert list(parts) == ["../up", "South/yard", None]
    together = pl.concat([part.decided.next_service for part in parts.values()])
    assert together.height == result.decided.next_service.height == 7
    assert together.sort("unit_id", "site").equals(result.decided.next_service.sort("unit_id", "site"))
    for table in (
        lambda one: one.described.drains,
        lambda one: one.decided.inspect_now,
        lambda one: one.decided.unit_reasons,
    ):
        assert sum(table(part).height for part in parts.values()) == table(result).height > 0
    assert sum(len(part.decided.unit_curves) for part in parts.values()) == len(result.decided.unit_curves)
    assert sum(len(part.decided.next_samples) for part in parts.values()) == len(result.decided.next_samples)


def test_what_counts_units_one_by_one_is_shared_out_and_the_forecast_stays_with_the_fleet(
    result: PlanResult, parts
) -> None:
    assert result.forecast is not None
    balances = [{unit.unit_key for unit in part.judged.volume.units} for part in parts.values()]
    assert set().union(*balances) == {unit.unit_key for unit in result.judged.volume.units}
    assert sum(map(len, balances)) == len(result.judged.volume.units) > 0
    assert all(part.forecast is None for part in parts.values())


def test_every_field_of_a_result_is_narrowed_or_known_to_be_the_fleets(result: PlanResult, parts) -> None:
    whole = {
        "report": "settings fitted warnings timings versions",
        "log": "accepted reasons common_reasons accounts legible second_ratings as_of "
        "held_back_file similar_names people_in_one_cell",
        "described": "units usage bookings rides_of_similar_units state combinations signs sample model_drains rated "
        "rated_by_interpretation names_by_interpretation questions_by_interpretation names_as_one measured "
        "unsure_scales reference_rater left_out oil_description pairs unpaired warnings",
        "judged": "trust springs spring_effects backtest oils warnings",
        "decided": "fleet_intervals shortened part_warnings",
    }
    own = {
        "report": "log described judged decided forecast notes",
        "log": "name held_back remarks",
        "described": "processing drains",
        "judged": "channels changepoints legs volume",
        "decided": "next_service unit_reasons inspect_now unit_curves next_samples wear parts",
    }
    for step, names in whole.items():
        one, other = (part if step == "report" else getattr(part, step) for part in (parts["../up"], result))
        assert {item.name for item in fields(one)} == {*names.split(), *own[step].split()}, "whose is a new field?"
        for name in names.split():
            assert getattr(one, name) is getattr(other, name)


def test_a_site_has_its_own_units_and_the_fleets_fit(result: PlanResult, parts) -> None:
    south = parts["South/yard"]
    assert set(south.decided.next_service["unit_id"]) == {"B1", "B2", "F01"}
    assert set(south.described.drains["site"]) == {"South/yard"}
    assert set(parts["../up"].decided.inspect_now["unit_id"]) == set()
    assert set(south.decided.inspect_now["unit_id"]) == {"B1"}
    assert south.judged.channels[0].curves == result.judged.channels[0].curves
    assert south.log.accounts == result.log.accounts
    assert south.log.held_back["unit_id"].to_list() == [None]
    assert parts["../up"].log.held_back["unit_id"].to_list() == ["A1"]
    assert run_record(south)["notes"]["site"] == "South/yard"


def test_namesakes_keep_their_long_names(parts) -> None:
    for site in ("../up", "South/yard"):
        with empty_pictures():
            names = {row.name for row in report_content(parts[site]).rows}
        assert f"F01 @ {site}" in names
        assert "F01" not in names


def test_every_part_can_be_written(parts, tmp_path: Path) -> None:
    for number, part in enumerate(parts.values()):
        folder = tmp_path / str(number)
        folder.mkdir()
        write_files(part, folder)
        page, _, rows_of_the_whole_log = (folder / "report.html").read_text().partition('<section id="held-back"')
        assert rows_of_the_whole_log
        for unit in ("A1", "B1", "C1"):
            assert (f">{unit}<" in page) == (unit in part.decided.next_service["unit_id"].to_list()), unit


def test_changes_are_of_the_sites_units_but_those_of_the_log_are_everybodys(result: PlanResult) -> None:
    here, there = UnitName("A1", "../up"), UnitName("B1", "South/yard")
    row = HeldBackRow("log.csv", 3, None, None, "why", "{}")
    changes = ReportChanges(
        AS_OF,
        AS_OF,
        shrunk=(ShrunkTable("drains", "log.csv", 9, 8),),
        fewer_drains=(FewerDrains(here, 3, 2), FewerDrains(there, 3, 2)),
        newly_turned=(there,),
        gone_units=(UnitName("GONE", "../up"), UnitName("OTHER", "South/yard")),
        newly_held_back=(row,),
        no_longer_held_back=4,
        settings_changed=("step_h",),
    )
    part = narrowed_changes(changes, result, site="../up", keys=units_by_site(result)["../up"])
    assert [item.unit for item in part.fewer_drains] == [here]
    assert part.newly_turned == ()
    assert part.gone_units == (UnitName("GONE", "../up"),)
    assert (part.shrunk, part.newly_held_back, part.no_longer_held_back) == (changes.shrunk, (row,), 4)
    assert part.settings_changed == ("step_h",)


def test_one_site_alone_gets_no_report_of_its_own(result: PlanResult) -> None:
    alone = altered(
        result,
        next_service=result.decided.next_service.filter(pl.col("site") == "../up"),
        drains=result.described.drains.filter(pl.col("site") == "../up"),
        inspect_now=result.decided.inspect_now.clear(),
    )
    assert units_by_site(alone) == {}


@pytest.mark.parametrize("site", ["Halmside bench", "Nord-Süd 2", "race truck", "Мастерская"])
def test_a_harmless_name_is_its_own_folder(site: str) -> None:
    assert site_folder(site) == site


@pytest.mark.parametrize(
    "site", ["", ".", "..", "../up", "a/b", "a\x00b", "/etc", "-rf", " a", "a.", "a\nb", "~", "a\u202eb", "x" * 300]
)
def test_any_other_name_is_cut_down_and_stays_apart(site: str, tmp_path: Path) -> None:
    name = site_folder(site)
    (tmp_path / name).mkdir()
    assert [item.name for item in tmp_path.iterdir()] == [name]
    assert name not in (".", "..")
    assert "~" in name


@given(st.lists(st.text(min_size=1, max_size=80), min_size=2, max_size=6, unique=True))
def test_two_sites_never_share_a_folder_and_none_is_a_path(sites: list[str]) -> None:
    names = [site_folder(site) for site in [*sites, None]]
    assert len(set(names)) == len(names)
    for name in names:
        assert not set(name) & {"/", "\\", "\x00", "\n", "."}
        assert 0 < len(name.encode("utf-8", "surrogatepass")) < 255
