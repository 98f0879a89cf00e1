"""A large fleet's plan on real worker processes, killed while it runs, against the same plan made here."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from no_evidence import no_evidence
from polars.testing import assert_frame_equal
from small_logs import AS_OF, simple_log

from draincurve.pipeline.deciding.unit_scoring import score_block
from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
from draincurve.pipeline.fitting.engine.dask_likelihood import DaskLikelihood
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.reading.read_inputs import RunInputs
from draincurve.pipeline.reading.sources import source_address
from draincurve.pipeline.run import plan

UNITS = 240


def planned(log: Path, engine: str | None) -> PlanResult:
    with no_evidence():
        return plan(RunInputs(source_address(str(log)), date.fromisoformat(AS_OF), engine=engine))


def test_a_plan_whose_workers_are_killed_is_the_plan_made_here(
    write, running_workers, monkeypatch, large_at_once
) -> None:
    """One worker is killed while the channels are fitted, one while units are scored."""
    log = write("drains.csv", simple_log(UNITS, 2))
    here = planned(log, None)
    killed = []
    expansion, submitted = DaskLikelihood.expansion, DaskEngine._submitted

    def killing_expansion(self, natural):
        if len(self._passes) == 2 and "fit" not in killed:
            killed.append("fit")
            running_workers.kill(0)
        return expansion(self, natural)

    def killing_submitted(self, function, task):
        future = submitted(self, function, task)
        if function is score_block and task.number == 1:
            killed.append("scoring")
            running_workers.kill(1)
        return future

    monkeypatch.setattr(DaskLikelihood, "expansion", killing_expansion)
    monkeypatch.setattr(DaskEngine, "_submitted", killing_submitted)
    there = planned(log, running_workers.address)
    assert killed == ["fit", "scoring"]
    for table in ("next_service", "unit_reasons", "fleet_intervals", "inspect_now"):
        assert_frame_equal(getattr(there.decided, table), getattr(here.decided, table), check_exact=True)
    said = "Workers of the cluster were lost; others took over, and answers are the same."
    assert [line for line in there.warnings if line not in here.warnings] == [said]


def test_a_small_fleet_is_run_here_and_it_is_said(write) -> None:
    log = write("drains.csv", simple_log(3, 4))
    assert any("a fleet of 3 units is quickest here" in line for line in planned(log, "local-cluster").warnings)


def test_an_engine_that_is_none_is_one_line_and_writes_nothing(run, write) -> None:
    log = write("drains.csv", simple_log(3, 4))
    refused = run("plan", log, "--as-of", AS_OF, "--engine", "spark://bench:7077")
    assert refused.status == 1
    assert refused.printed.startswith("draincurve: --engine spark://bench:7077: names no engine; expected dask://")
    assert refused.printed.count("\n") == 1
    assert not refused.folder.exists()
