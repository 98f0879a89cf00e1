"""Facts of a report: the same from the result and from the folder it left, whatever the names in it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import polars as pl
import pytest
from facts_at_hand import DAY, facts, unit

from draincurve.nightly.report_comparison import changes_between
from draincurve.nightly.report_facts import facts_of_folder, facts_of_result, unit_facts
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading.read_inputs import RunInputs
from draincurve.pipeline.reading.sources.addresses import source_address
from draincurve.pipeline.run import plan
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.unit_names import unit_names
from draincurve.reports.output.run_record import write_run_record
from draincurve.reports.tables.csv_tables import write_tables
from draincurve.schemas.errors import SourceError
from tests.reports.invented_report import altered

NAMES = ("=1+1", "'quoted", 'with "quotes", and; more', "007", "-5", "F,07", " ü ", "@home")


@pytest.fixture(scope="module")
def result(tmp_path_factory) -> PlanResult:
    path = tmp_path_factory.mktemp("facts") / "drains.parquet"
    columns = {"oil_grade": "Fork 5", "spring_type": "Plain 46", "rider": "Brask", "site": "+north"}
    rows = [
        {"unit_id": name, "drained_on": f"2026-05-{day:02d}", "oil_hours": str(4 + day), "colour_rating": str(rating)}
        | columns
        | {"leak": "yes" if name == "007" and day == 25 else "no"}
        for name in NAMES
        for day, rating in ((5, 2), (15, 3), (25, 9 if name == "@home" else 4))
    ]
    pl.DataFrame(rows).write_parquet(path)
    return plan(RunInputs(source_address(str(path)), DAY))


def written(result: PlanResult, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    write_tables(result, folder)
    write_run_record(result, folder / "run.json")
    return folder


def test_the_folder_says_what_the_result_said(result: PlanResult, tmp_path: Path) -> None:
    found, expected = facts_of_folder(written(result, tmp_path)), facts_of_result(result)
    assert found == expected
    assert not any(changes_between(found, expected).counts.values())
    assert len(found.units) == len(NAMES)
    assert len(found.held_back) == 1
    assert [unit.unit_id for unit in found.signs] == ["007"]


def test_a_unit_is_due_where_the_page_says_so(result: PlanResult) -> None:
    table = result.decided.next_service.with_columns(
        pl.Series("due_before", [DAY, *[None] * (len(NAMES) - 1)], dtype=pl.Date),
        pl.Series("hours_left", [None, 0.0, -1.0, *[3.0] * (len(NAMES) - 3)]),
    )
    on_page = {row.name: row.due_now for row in service_rows(table, unit_names(result), as_of=DAY)}
    ours = {one.unit_id: one.due_now(DAY) for one in facts_of_result(altered(result, next_service=table)).units}
    assert {name.strip(): due for name, due in ours.items()} == {name.strip(): due for name, due in on_page.items()}
    assert sum(ours.values()) >= 2


def test_a_record_from_before_signs_were_in_it_counts_every_sign_as_new(result: PlanResult, tmp_path: Path) -> None:
    folder = written(result, tmp_path)
    record = json.loads((folder / "run.json").read_text())
    del record["inspect_now"]
    (folder / "run.json").write_text(json.dumps(record))
    assert len(changes_between(facts_of_folder(folder), facts_of_result(result)).newly_inspect) == 1


@pytest.mark.parametrize("name", ["run.json", "next_service.csv", "held_back.csv"])
@pytest.mark.parametrize("content", [None, b"", b"{}", b"\xff\xfe\x00", b"a,b\n1,2\n", b'{"as_of": 3}', b'"x'])
def test_what_is_no_output_folder_is_one_line(result: PlanResult, tmp_path: Path, name: str, content) -> None:
    folder = written(result, tmp_path)
    if content is None:
        (folder / name).unlink()
    else:
        (folder / name).write_bytes(content)
    with pytest.raises(SourceError) as fault:
        facts_of_folder(folder)
    assert str(folder) in str(fault.value)
    assert "\n" not in str(fault.value)


def test_numbers_are_rounded_as_they_are_written() -> None:
    row = {name: getattr(unit(), name) for name in unit().__slots__} | {"interval_h": 1.23456, "hours_left": -0.0001}
    assert unit_facts(row).interval_h == 1.235
    assert str(unit_facts(row).hours_left) == "0.0"
    assert facts(unit(due_on=date(2026, 6, 19))).due_now == [unit(due_on=date(2026, 6, 19))]
