"""A large fleet's plan with everything that is done for a large log, against the same plan without it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal
from small_logs import AS_OF, simple_log, write_tables_only

from draincurve.pipeline import processing
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import LogProcessing
from draincurve.pipeline.reading.read_inputs import RunInputs
from draincurve.pipeline.reading.sources import source_address
from draincurve.pipeline.run import plan
from draincurve.reports.output.output_folder import OUTPUT_FILES
from draincurve.reports.output.report_files import write_results

UNITS = 220


@pytest.fixture(scope="module")
def log(tmp_path_factory) -> Path:
    """Parquet of texts, two drains a unit, some rows that cannot be right."""
    folder = tmp_path_factory.mktemp("large")
    rows = pl.DataFrame(simple_log(UNITS, 2)).select(pl.all().cast(pl.String))
    bad = pl.int_range(pl.len()) % 50 == 49
    rows = rows.with_columns(pl.when(bad).then(pl.lit("9")).otherwise("colour_rating").alias("colour_rating"))
    rows.write_parquet(folder / "drains.parquet")
    return folder / "drains.parquet"


def planned(log: Path, **how) -> PlanResult:
    return plan(RunInputs(source_address(str(log)), date.fromisoformat(AS_OF), **how))


def test_the_plan_of_a_large_log_is_the_plan_of_a_small_one(log, tmp_path, large_at_once) -> None:
    as_small = planned(log)
    as_large = planned(
        log,
        log_processing=LogProcessing(categorical_rows=1, piece_rows=70, held_back_in_memory=4),
        processing=replace(processing.LARGE_FLEET, categorical_names=True, compact_design=True, balance_units=50),
    )
    (tmp_path / "small").mkdir()
    write_tables_only(as_small, tmp_path / "small", changes=None)
    write_results(as_large, tmp_path / "large")
    assert as_large.described.drains.schema["rider"] == pl.Categorical
    assert as_large.log.held_back.height == 4
    assert as_large.log.accounts == as_small.log.accounts
    assert as_large.log.held_back_count == as_small.log.held_back_count == UNITS * 2 // 50
    assert_frame_equal(as_large.judged.volume.verdicts, as_small.judged.volume.verdicts)
    assert as_large.judged.volume.units == as_small.judged.volume.units[:50]
    for table in ("next_service", "fleet_intervals", "forecast"):
        small, large = (pl.read_csv(tmp_path / name / f"{table}.csv") for name in ("small", "large"))
        assert_frame_equal(large, small, abs_tol=1e-3)
    for name in ("held_back.csv", "inspect_now.csv"):
        assert (tmp_path / "large" / name).read_bytes() == (tmp_path / "small" / name).read_bytes()
    assert {file.name for file in (tmp_path / "large").iterdir()} <= set(OUTPUT_FILES)
    page = (tmp_path / "large" / "report.html").read_text(encoding="utf-8")
    assert f"{as_small.log.held_back_count} held back" in page
