"""A rater's drift is taken out of the fit, and never lengthens where nobody knows whose eye is steady."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

import draincurve
from draincurve.pipeline import processing
from draincurve.pipeline.deciding import decide
from draincurve.pipeline.describing import CompactDesign, describe, with_categorical_names
from draincurve.pipeline.describing.design_terms import DRIFT_SD
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting import fit, fit_channel, rater_drifts, typical_threshold_draws
from draincurve.pipeline.fitting.drift_columns import drift_since, with_drift_columns
from draincurve.pipeline.judging import judge
from draincurve.schemas.settings import Settings
from tests.pipeline.judging.watched_fleets import FleetOptions, watched_log

DRIFTING = FleetOptions(units=8, drains=20, drift=(("MO", -4.0),))
LARGE = FleetOptions(units=120, drains=8, days=35, drift=(("MO", -4.0),))
COLUMNS = ("unit_id", "drained_on", "oil_hours", "oil_grade", "spring_type", "rider", "rated_by", "service_kind")


def log_of(options, settings=None, seed=3):
    rows = watched_log(options, seed)
    frame = rows.select(*COLUMNS, pl.col("debris_low").alias("debris_rating"))
    return draincurve.read(frame, rows["drained_on"].max(), settings=settings).log


def fitted(log, settings, how=None):
    described = describe(log, settings, processing=how)
    return described, fit(described, settings)


@pytest.fixture(scope="module", params=["small", "large"])
def drifting(request):
    """A log with its fit; the large one's design is held as indices of levels, and its units are scored in blocks."""
    settings = Settings()
    if request.param == "small":
        log = log_of(DRIFTING)
        return log, settings, *fitted(log, settings)
    how = replace(processing.LARGE_FLEET, compact_design=True, block_units=50, sample_units=100)
    log = log_of(LARGE)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(processing, "LARGE_FLEET_UNITS", 90)
        return log, settings, *fitted(log, settings, how)


def test_a_walk_has_mean_zero_over_its_rater_s_drains_and_is_nought_in_others():
    drains = describe_channel(watched_log(DRIFTING, 3), "debris")
    walked = with_drift_columns(drains, ["MO"])
    columns = walked.design[:, walked.spans()[-1]]
    own = (drains.rows["rated_by"] == "MO").to_numpy()
    assert columns[own].mean(axis=0) == pytest.approx(0.0, abs=1e-12)
    assert not columns[~own].any()
    assert walked.terms[-1].width == columns.shape[1] == 7
    days = drains.rows["drained_on"].to_physical().to_numpy()[own]
    ends = columns[own][[days.argmin(), days.argmax()]]
    # The variance of a walk is proportional to the time between its periods' middles, here under the whole span.
    assert DRIFT_SD**2 * np.square(ends[1] - ends[0]).sum() == pytest.approx(
        DRIFT_SD**2 * 0.87 * np.ptp(days) / 365.25, rel=0.05
    )


@pytest.mark.parametrize(("most", "steps"), [(None, [7, 7]), (8, [4, 4]), (3, [1, 1]), (1, [1, 1])])
def test_a_design_of_indices_gets_the_same_walks(most, steps):
    log = watched_log(DRIFTING, 3)
    some = describe_channel(log, "debris")
    compact = describe_channel(with_categorical_names(log), "debris", compact=True)
    dense, indices = (with_drift_columns(drains, ["KB", "MO"], most_steps=most) for drains in (some, compact))
    assert isinstance(indices.design, CompactDesign)
    assert np.array_equal(indices.design.columns(), dense.design)
    assert [term.width for term in dense.terms[-2:]] == steps


def test_a_walk_goes_on_from_its_last_period():
    """By the normal steps of its prior; a rater without a walk stays the average."""
    log = watched_log(DRIFTING, 3)
    drains = with_drift_columns(describe_channel(log, "debris"), ["MO"])
    walked = fit_channel(drains, Settings(), rng=np.random.default_rng(1))
    last = log["drained_on"].max()
    later = pl.DataFrame(
        {"rated_by": ["MO", "KB", None, "MO"], "drained_on": [last] * 3 + [last + timedelta(days=365)]}
    )
    since = drift_since(walked, later, rng=np.random.default_rng(2))
    rows = walked.drains.rows.with_row_index().filter(pl.col("rated_by") == "MO").sort("drained_on")
    on_last_days = rows["index"][-3:].to_numpy()
    spanned = walked.coefficients[:, walked.drains.spans()[-1]] @ drains.design[on_last_days[-1], drains.spans()[-1]]
    assert spanned.mean() < -1.0
    assert since[0].mean() == pytest.approx(spanned.mean(), abs=0.1)
    assert not since[1:3].any()
    assert since[3].var() - since[0].var() == pytest.approx(DRIFT_SD**2, rel=0.15)


def test_what_is_named_is_taken_out(drifting):
    """The steady raters' thresholds move to where they are without MO's drains; nobody is named a second time."""
    _, settings, described, found = drifting
    assert [drift.rater for drift in found.drifts["debris"] if drift.named] == ["MO"]
    assert found.fits["debris"].processing.linear_effects == described.processing.compact_design
    assert not any(drift.named for drift in rater_drifts(found.sampled["debris"]) if drift.rater != "MO")
    state = pl.DataFrame({"part_age": [300.0], "rated_by": ["KB"]})
    others = describe_channel(described.model_drains.filter(pl.col("rated_by") != "MO"), "debris")
    alone = fit_channel(others, settings, rng=np.random.default_rng(1))
    middle = {
        name: float(np.median(typical_threshold_draws(one, state, limit=4, priors=settings.priors,
                                                      rng=np.random.default_rng(2)) / one.hours_slope))
        for name, one in (("alone", alone), ("out", found.fits["debris"]), ("in", found.with_drift.fits["debris"]))
    }  # fmt: skip
    assert abs(middle["out"] - middle["alone"]) < 0.6 * abs(middle["in"] - middle["alone"])


def test_draws_with_a_drift_serve_no_other_interpretation(drifting):
    *_, found = drifting
    walked, as_rated = found.fits["debris"], found.with_drift.fits["debris"]
    assert as_rated.has_parameters_of(as_rated.drains)
    assert not any(one.has_parameters_of(walked.drains) for one in (walked, as_rated))
    assert not walked.has_parameters_of(as_rated.drains)


def test_without_a_steady_reference_the_shorter_interval_counts(drifting):
    log, settings, described, found = drifting
    as_rated = replace(found, channels=found.with_drift.fits, joint=found.with_drift.joint, with_drift=None)
    judged = judge(described, found, log=log, settings=settings)
    decided = [
        decide(described, one, log=log, judged=judged, settings=settings, as_of=log.as_of)
        for one in (found, replace(found, with_drift=None), as_rated)
    ]
    hours = [one.next_service.sort("unit_id")["interval_h"] for one in decided]
    assert decided[0].shortened == decided[1].shortened, "what is asked about has shortened no more"
    assert hours[0].to_list() == np.minimum(hours[1].to_numpy(), hours[2].to_numpy()).tolist()
    words = judged.trust[1].raters.findings[1].text
    assert "Units are judged with that taken out; the hours are the shorter of those with it and without it" in words


def test_the_reference_rater_s_own_eye_is_followed_where_it_is_steady(drifting):
    for reference, kept in (("KB", False), ("MO", True), ("somebody else", True)):
        settings = replace(Settings(), reference_rater=reference)
        log = log_of(DRIFTING, settings)
        assert (fitted(log, settings)[1].with_drift is not None) == kept


def test_without_drift_nothing_changes():
    settings = Settings()
    log = log_of(FleetOptions(units=6, drains=12))
    _, found = fitted(log, settings)
    assert found.with_drift is None
    assert all(term.kind != "drift" for term in found.fits["debris"].drains.terms)
