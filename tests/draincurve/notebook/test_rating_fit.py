import numpy as np
import pandas as pd
import polars as pl
import pytest
from scipy.special import expit

import draincurve
from draincurve.pipeline.fitting import rating_model
from draincurve.schemas.errors import FitError, SettingsError
from draincurve.schemas.settings import Priors


@pytest.fixture(scope="module")
def log():
    rng = np.random.default_rng(7)
    units = np.repeat([f"F{index:02d}" for index in range(12)], 15)
    hours, soft = rng.uniform(4, 30, units.size), rng.integers(0, 2, units.size)
    effect = np.repeat(rng.normal(size=12), 15)
    latent = 2.0 * np.log(hours / 12) + 0.8 * soft + 0.8 * effect + rng.logistic(size=units.size)
    frame = pd.DataFrame({"hours": hours, "soft": soft, "unit": units})
    return frame.assign(rating=1 + np.searchsorted([-1.0, 0.0, 1.0, 2.0], latent), log_hours=np.log(hours))


def fitted(log, design, **options):
    return draincurve.fit_rating_model(log["rating"], log["log_hours"], design, log["unit"], **options)


@pytest.fixture(scope="module")
def by_frame(log):
    return fitted(log, log[["soft"]])


def test_estimates_are_those_of_the_pipeline_and_labelled_where_the_design_was_a_frame(log, by_frame):
    plain = rating_model.fit_rating_model(log["rating"], log["log_hours"], log[["soft"]], log["unit"])
    assert by_frame.coefficients.to_dict() == {"soft": plain.coefficients[0]}
    assert list(by_frame.standard_errors.index) == ["1|2", "2|3", "3|4", "4|5", "hours_slope", "soft", "unit_sd"]
    assert np.array_equal(by_frame.standard_errors, plain.standard_errors)
    assert by_frame.unit_effects.to_dict() == dict(zip(plain.unit_labels, plain.unit_effects, strict=True))
    arrays = fitted(log, log[["soft"]].to_numpy())
    assert isinstance(arrays.coefficients, np.ndarray)
    assert isinstance(arrays.standard_errors, np.ndarray)
    assert np.array_equal(arrays.coefficients, by_frame.coefficients)
    assert list(arrays.summary().index)[5] == "x1"


@pytest.mark.parametrize(
    "kind", [pl.from_pandas, lambda frame: pl.from_pandas(frame).to_arrow(), lambda frame: frame["soft"]]
)
def test_every_kind_of_frame_names_its_columns(log, by_frame, kind):
    assert fitted(log, kind(log[["soft"]])).coefficients.to_dict() == by_frame.coefficients.to_dict()


def test_the_summary_holds_estimates_and_their_ranges(by_frame):
    table = by_frame.summary(level=0.95)
    assert table["estimate"].to_list() == [
        *by_frame.thresholds, by_frame.hours_slope, by_frame.coefficients["soft"], by_frame.unit_sd
    ]  # fmt: skip
    soft = table.loc["soft"]
    assert soft["high"] - soft["estimate"] == pytest.approx(1.959964 * soft["standard_error"], rel=1e-6)
    assert (table["low"] < table["estimate"]).all()
    assert by_frame.summary().loc["unit_sd", "low"] >= 0
    assert repr(by_frame).startswith(
        "<RatingFit: 180 ratings of 12 units, logit link, maximum likelihood, hours slope"
    )
    assert "<table" in by_frame._repr_html_()


def test_a_prediction_is_the_model_at_the_estimate(by_frame):
    found = by_frame.predict([6, 18], design={"soft": 1})
    assert list(found.columns) == [
        "hours", "rating", "probability", "low", "high", "at_least", "at_least_low", "at_least_high"
    ]  # fmt: skip
    eta = by_frame.hours_slope * np.log(18) + by_frame.coefficients["soft"]
    later = found[found["hours"] == 18]
    assert later["at_least"].to_numpy() == pytest.approx([1.0, *expit(eta - by_frame.thresholds)])
    assert later["probability"].sum() == pytest.approx(1.0)
    assert later["probability"].to_numpy()[:-1] == pytest.approx(-np.diff(later["at_least"]))
    inner = found[found["rating"] > 1]
    assert (inner["at_least_low"] < inner["at_least"]).all()
    assert (inner["at_least"] < inner["at_least_high"]).all()
    assert (found[found["rating"] == 1]["at_least_low"] == 1.0).all()


def test_a_units_prediction_has_its_own_effect(by_frame):
    unit = by_frame.unit_effects.idxmax()
    both = by_frame.predict(15, design={"soft": 0}, units=[unit, None]).query("rating == 4")["at_least"].to_numpy()
    eta = by_frame.hours_slope * np.log(15) + np.array([by_frame.unit_effects.max(), 0.0])
    assert both == pytest.approx(expit(eta - by_frame.thresholds[2]))
    assert both[0] > both[1]


def test_ranges_under_maximum_likelihood_agree_with_the_delta_method(log):
    fit = draincurve.fit_rating_model(log["rating"], log["log_hours"], log[["soft"]])
    row = fit.predict(12, design={"soft": 0}, level=0.90).query("rating == 4").iloc[0]
    covariance = _covariance(fit)
    gradient = np.array([0.0, 0.0, -1.0, 0.0, np.log(12), 0.0])
    half = 1.644854 * np.sqrt(gradient @ covariance @ gradient)
    eta = fit.hours_slope * np.log(12) - fit.thresholds[2]
    assert (row["at_least_low"], row["at_least_high"]) == pytest.approx(expit([eta - half, eta + half]), rel=0.05)


def _covariance(fit):
    """Inverse of the log likelihood's Hessian by differences, on the scale of the hours given."""
    objective = fit._point.objective
    natural = objective.layout.natural(fit._point.maximum.point.working)
    inside = np.linalg.inv(-objective.likelihood.differenced_hessian(natural))
    undo = np.eye(natural.size)
    undo[:4, 4:6] = fit._point.centres
    return undo @ inside @ undo.T


def test_with_a_prior_the_prediction_is_the_posterior_mean(log):
    fit = fitted(log, log[["soft"]], prior=Priors())
    found = fit.predict(15, design={"soft": 0}, units="F03")
    assert fit.predict(15, design={"soft": 0}, units="F03").equals(found)
    assert found["probability"].sum() == pytest.approx(1.0)
    other = fit.predict(15, design={"soft": 0}, units="F03", seed=1)
    assert other["at_least"].to_numpy() == pytest.approx(found["at_least"].to_numpy(), abs=0.02)
    assert "posterior" in fit.range_method
    assert "posterior mode" in repr(fit)
    assert fitted(log, log[["soft"]], prior={}).log_likelihood == fit.log_likelihood
    assert fitted(log, log[["soft"]], prior={"unit_sd": 0.01}).unit_sd < fit.unit_sd


def test_rows_of_hours_units_and_design_go_together(log, by_frame):
    three = by_frame.predict([5, 10, 20], design=log[["soft"]].head(3), units=["F00", "F01", None])
    alone = by_frame.predict(10, design=log[["soft"]].iloc[[1]], units="F01")
    assert three.query("unit == 'F01'")["probability"].to_numpy() == pytest.approx(alone["probability"].to_numpy())
    without = draincurve.fit_rating_model(log["rating"], None)
    assert without.predict(None).columns[0] == "rating"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"hours": 10}, r"design: expected the columns soft, in one row for all or in 1; found shape \(1, 0\)"),
        ({"hours": 10, "design": {"hard": 1}}, "design: no column soft; the fit had soft"),
        ({"hours": 10, "design": {"soft": 1}, "units": "F3"}, r"unit F3: is not in the fit; did you mean F03"),
        ({"hours": 10, "design": {"soft": 1}, "units": "X"}, r"unit X: is not in the fit; None means a typical unit"),
        ({"hours": 0, "design": {"soft": 1}}, r"hours: expected a number.*above 0 \[h\]"),
        ({"hours": [1, 2], "design": {"soft": 1}, "units": ["F01"] * 3}, "hours: expected one value or 3, found 2"),
        ({"hours": 10, "design": {"soft": 1}, "level": 90}, "level = 90: expected a probability"),
    ],
)
def test_a_prediction_that_cannot_be_made_says_why(by_frame, given, said):
    with pytest.raises(FitError, match=said):
        by_frame.predict(**given)


def test_a_fit_that_cannot_be_made_says_why(log):
    with pytest.raises(FitError, match="design: column unit holds String, not numbers; code each level"):
        fitted(log, log[["unit"]])
    with pytest.raises(FitError, match="nothing is rated 1"):
        draincurve.fit_rating_model(log["rating"] + 1, log["log_hours"])
    with pytest.raises(FitError, match="expected 1 to 5"):
        draincurve.fit_rating_model(log["rating"] - 1, log["log_hours"], levels=5)
    with pytest.raises(SettingsError, match=r"prior: sd_of_units: unknown setting"):
        fitted(log, None, prior={"sd_of_units": 1.0})
    with pytest.raises(FitError, match="fitted without log hours; give None"):
        draincurve.fit_rating_model(log["rating"], None).predict(10)
