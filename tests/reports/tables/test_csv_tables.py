from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented_report import altered, described, empty_log, judged

from draincurve.pipeline.deciding.decided import Decided
from draincurve.pipeline.fitting.fitted import Fitted
from draincurve.pipeline.judging.channel_result import ChannelResult, FitDiagnostics, PriorMovement
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading.validating.accounting import TableAccount
from draincurve.reports.output.output_folder import swapped_in
from draincurve.reports.output.run_record import run_record, write_run_record
from draincurve.reports.tables.csv_tables import as_written, write_table, write_tables
from draincurve.schemas.errors import ContractError, SourceError
from draincurve.schemas.fleet_intervals_table import FleetIntervals
from draincurve.schemas.next_service_table import NextService
from draincurve.schemas.settings import Settings

AS_OF = date(2026, 6, 1)


def write_output(result, folder):
    with swapped_in(folder) as staged:
        write_tables(result, staged)
        write_run_record(result, staged / "run.json")


def frame_of(model, *rows: dict[str, object]) -> pl.DataFrame:
    kinds = {"str": pl.String, "int": pl.Int64, "float": pl.Float64, "date": pl.Date, "bool": pl.Boolean}
    columns = model.to_schema().columns
    schema = {name: kinds[model.__annotations__[name]] for name in columns}
    return pl.DataFrame([dict.fromkeys(columns) | row for row in rows], schema=schema)


@pytest.fixture
def result() -> PlanResult:
    services = frame_of(
        NextService,
        {
            "unit_id": "=F07", "site": "north", "drains": 3, "hours_on_oil": 3.123456, "hours_on_oil_basis": "logged",
            "interval_h": 12.5, "set_by": "colour", "hours_left": 9.376544, "due_on": date(2026, 6, 9),
            "standing": "with the fleet", "turned": False, "risk_now": 1 / 3,
        },
    )  # fmt: skip
    held = pl.DataFrame(
        {
            "source": ["log.csv"], "line": [7], "day": ["2026-05-04"], "column": ["oil_hours"], "value": ["-5"],
            "reason": ["hours are over 0"],
            "unit_id": ["@SUM(A1)"], "note": ['said "so",\nand more'], "=cmd": ["x"],
        }
    )  # fmt: skip
    diagnostics = FitDiagnostics(True, 9, -12.5, "importance resampling", 0.3, float("inf"), 2, True, "")
    channel = ChannelResult(
        "colour",
        4,
        None,
        pl.DataFrame({"unit_id": ["F07"]}),
        prior_movement=(PriorMovement("slope", "how fast", 0.5, 0.25),),
        diagnostics=diagnostics,
        hours_slope=(2.0, 1.5, 2.6),
    )
    intervals = frame_of(
        FleetIntervals,
        {"spring_type": "steel", "oil_grade": "amber", "interval_h": 10.0, "set_by": "debris", "drains": 9,
         "units": 2},
    )  # fmt: skip
    nothing = pl.DataFrame()
    accounts = (TableAccount("drains", "log.csv", "ab12", 10, 9, 1),)
    return PlanResult(
        settings=Settings(),
        log=replace(empty_log(AS_OF, "log.csv"), accounts=accounts, held_back=held),
        described=described(nothing),
        fitted=Fitted({}, {}),
        judged=judged((channel,)),
        decided=Decided(services, nothing, intervals, nothing, (), (), None),
        forecast=None,
        warnings=("few drains",),
        timings={"fit": 0.123456},
        notes={"points": np.array([1.0, np.nan])},
    )


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_tables_of_an_earlier_log_go_and_what_is_not_ours_stays(result, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    for name in ("parts.csv", "next_service.parquet", "notes.txt"):
        (folder / name).write_text("of yesterday")
    write_output(result, folder)
    left = {item.name for item in folder.iterdir()}
    assert "notes.txt" in left
    assert not left & {"parts.csv", "next_service.parquet"}


def test_all_files_are_written_with_three_decimals_iso_dates_and_empty_unknowns(result, tmp_path):
    write_output(result, tmp_path / "out")
    assert {item.name for item in (tmp_path / "out").iterdir()} == {
        "next_service.csv", "fleet_intervals.csv", "spring_effects.csv", "forecast.csv", "held_back.csv", "run.json",
        "inspect_now.csv",
    }  # fmt: skip
    row = read(tmp_path / "out" / "next_service.csv")[0]
    assert row["hours_on_oil"] == "3.123"
    assert row["risk_now"] == "0.333"
    assert row["due_on"] == "2026-06-09"
    assert row["rider"] == ""
    assert row["unit_id"] == "'=F07"
    assert list(tmp_path.iterdir()) == [tmp_path / "out"], "nothing temporary stays behind"


def test_held_back_rows_come_as_typed_but_for_what_a_spreadsheet_would_run(result, tmp_path):
    write_output(result, tmp_path / "out")
    row = read(tmp_path / "out" / "held_back.csv")[0]
    assert row["value"] == "-5"
    assert row["unit_id"] == "'@SUM(A1)"
    assert row["note"] == 'said "so",\nand more'
    assert row["'=cmd"] == "x"


@given(st.text(max_size=8), st.sampled_from(["=", "+", "-", "@", "\t", "\r", " =", "\u00a0=", "＝", ""]))
def test_no_cell_begins_like_a_formula(text, start):
    """Source: OWASP, CSV Injection: cells that begin with =, +, -, @, tab or carriage return."""
    written = as_written(pl.DataFrame({"cell": [start + text]}))["cell"][0]
    if written.lstrip()[:1] in ("=", "+", "-", "@", "＝"):
        assert written.replace(",", ".").lstrip("+-").replace(".", "", 1).isdigit()
    if start:
        assert written.endswith(text)


@pytest.mark.parametrize(
    ("typed", "written"),
    [("-5", "-5"), ("+1,5", "+1,5"), ("-2+3", "'-2+3"), ("=1+1", "'=1+1"), ("F07", "F07"), ("a=b", "a=b"), ("", "")],
)
def test_plain_numbers_and_plain_text_stay(typed, written):
    assert as_written(pl.DataFrame({"cell": [typed]}))["cell"][0] == written


def test_the_table_itself_is_not_changed_and_there_is_no_minus_nought(tmp_path):
    table = pl.DataFrame({"h": [-0.0001, 12.34567, None]})
    write_table(table, tmp_path / "t.csv")
    assert (tmp_path / "t.csv").read_bytes() == b"h\n0.0\n12.346\n\n"
    assert table["h"][0] == -0.0001


def test_a_broken_table_leaves_the_earlier_run_as_it_was(result, tmp_path):
    write_output(result, tmp_path / "out")
    before = {item.name: item.read_bytes() for item in (tmp_path / "out").iterdir()}
    broken = altered(result, next_service=result.decided.next_service.with_columns(risk_now=pl.lit(7.0)))
    with pytest.raises(ContractError, match="risk_now"):
        write_output(broken, tmp_path / "out")
    assert {item.name: item.read_bytes() for item in (tmp_path / "out").iterdir()} == before
    assert list(tmp_path.iterdir()) == [tmp_path / "out"]


def test_the_same_result_gives_the_same_bytes(result, tmp_path):
    for name in ("a", "b"):
        write_output(result, tmp_path / name)
    for item in (tmp_path / "a").iterdir():
        assert item.read_bytes() == (tmp_path / "b" / item.name).read_bytes()


def test_a_folder_with_other_files_keeps_them_and_loses_stale_results(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    (out / "report.html").write_text("old")
    (out / "run.json").write_text("old")
    with swapped_in(out) as staged:
        (staged / "run.json").write_text("new")
    assert {item.name: item.read_text() for item in out.iterdir()} == {"notes.txt": "mine", "run.json": "new"}


def test_an_earlier_run_is_replaced_as_a_whole(tmp_path):
    out = tmp_path / "deep" / "out"
    for text in ("old", "new"):
        with swapped_in(out) as staged:
            (staged / f"{'run.json' if text == 'new' else 'report.html'}").write_text(text)
    assert {item.name: item.read_text() for item in out.iterdir()} == {"run.json": "new"}
    assert [item.name for item in out.parent.iterdir()] == ["out"]


def test_a_failure_in_the_block_changes_nothing(tmp_path):
    with pytest.raises(ZeroDivisionError), swapped_in(tmp_path / "out") as staged:
        (staged / "run.json").write_text(str(1 // 0))
    assert list(tmp_path.iterdir()) == []


def test_a_file_where_the_folder_should_be_is_said(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(SourceError, match="name a folder"), swapped_in(tmp_path / "out"):
        pass
    with pytest.raises(SourceError, match="cannot be written"), swapped_in(tmp_path / "out" / "below"):
        pass


def test_the_record_holds_inputs_settings_and_diagnostics_as_plain_json(result):
    record = json.loads(json.dumps(run_record(result), allow_nan=False))
    assert record["inputs"][0] == {
        "table": "drains", "source": "log.csv", "sha256": "ab12", "read": 10, "accepted": 9, "held_back": 1,
        "no_rows": 0,
    }  # fmt: skip
    assert record["as_of"] == "2026-06-01"
    assert record["settings"]["limits"]["colour_rating"] == 4
    assert record["channels"][0]["diagnostics"]["effective_sample_size"] is None
    assert record["channels"][0]["prior_movement"][0]["ratio"] == 0.5
    assert record["notes"]["points"] == [1.0, None]
    assert record["timings"] == {"fit": 0.123}
    assert record["warnings"] == ["few drains"]


def test_rows_that_do_not_add_up_are_a_fault_of_the_program(result):
    lost = altered(result, accounts=(TableAccount("drains", "log.csv", "ab12", 10, 8, 1),))
    with pytest.raises(ContractError, match="10 rows read, but 8 accepted and 1 held back"):
        run_record(lost)
