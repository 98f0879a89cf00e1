"""The steps of the main job: each alone gives what the chain gives, and a large fleet's report lets its drains go."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields
from datetime import date
from importlib.resources import as_file, files

import numpy as np
import pytest
from polars.testing import assert_frame_equal

from draincurve.pipeline.deciding import decide, look_ahead
from draincurve.pipeline.describing import describe
from draincurve.pipeline.fitting import choose_oil_term, fit
from draincurve.pipeline.judging import judge
from draincurve.pipeline.processing import LARGE_FLEET
from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.pipeline.run import plan
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.settings import Settings

STAGES = [
    "reading", "checking", "describing", "fitting colour", "fitting debris", "fitting a sample",
    "joining channels", "judging",
    "watching units and raters", "comparing legs", "balancing volumes", "comparing springs",
    "trying earlier predictions", "deciding", "forecasting",
]  # fmt: skip


@pytest.fixture(scope="module")
def inputs():
    with as_file(files("draincurve.sample_data") / "spring_trial") as folder:
        yield RunInputs(source_address(str(folder / "drains.csv")), date(2026, 6, 20))


@pytest.fixture(scope="module")
def told():
    return []


@pytest.fixture(scope="module")
def report(inputs, told):
    return plan(inputs, told.append)


def test_the_steps_called_one_by_one_give_what_the_chain_gives(inputs, report, told):
    settings, watch = Settings(), Stopwatch()
    log = read(inputs, settings, watch=watch)
    described = describe(log, settings, choose_oil_term=choose_oil_term, watch=watch)
    fitted = fit(described, settings, watch=watch)
    judged = judge(described, fitted, log=log, settings=settings, watch=watch)
    decided = decide(described, fitted, log=log, judged=judged, settings=settings, as_of=inputs.as_of, watch=watch)
    ahead = look_ahead(described, decided, settings=settings, as_of=inputs.as_of, watch=watch)
    assert_frame_equal(decided.next_service, report.decided.next_service, check_exact=True)
    assert_frame_equal(decided.fleet_intervals, report.decided.fleet_intervals, check_exact=True)
    assert_frame_equal(judged.spring_effects, report.judged.spring_effects, check_exact=True)
    assert_frame_equal(ahead.table, report.forecast.table, check_exact=True)
    assert list(watch.seconds) == list(report.timings) == told == STAGES


def test_a_small_fleets_report_holds_its_fits_and_their_drains(report):
    for channel, found in report.fitted.fits.items():
        assert found.drains.design is report.described.rated[channel].design
        assert found.drains.low.size > 0


def test_a_large_fleets_report_holds_draws_but_no_drains(inputs, report):
    large = plan(RunInputs(inputs.log, inputs.as_of, processing=LARGE_FLEET))
    assert large.described.rated == {}
    assert large.described.model_drains.height == 0
    assert large.described.drains.height == report.described.drains.height
    assert large.described.left_out == report.described.left_out
    assert large.fitted.sampled == {}
    for channel, found in large.fitted.fits.items():
        assert found.drains.rows.height == found.drains.low.size == found.rated.size == 0
        arrays = (found.drains.low, found.drains.high, found.drains.log_hours, found.drains.units, found.fit.order)
        assert all(array.base is None for array in arrays), "an empty view holds the whole array"
        kept = report.fitted.fits[channel].drains.terms
        assert [term.column for term in found.drains.terms] == [term.column for term in kept]
        np.testing.assert_array_equal(found.coefficients, report.fitted.fits[channel].coefficients)


def test_results_are_frozen(report):
    for step in (report, report.log, report.described, report.fitted, report.judged, report.decided):
        with pytest.raises(FrozenInstanceError):
            setattr(step, fields(step)[0].name, None)
        assert not hasattr(step, "__dict__")
