from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from judged_log import combinations_of, fitted_fleet, fleet_log

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.judging.channel_result import PriorMovement, channel_result, rating_rows, unfitted_result
from draincurve.pipeline.judging.fit_warnings import fit_warnings
from draincurve.schemas.settings import Settings

SETTINGS = Settings()


@pytest.fixture(scope="module")
def log():
    return fleet_log()


@pytest.fixture(scope="module")
def fit(log):
    return fitted_fleet(log)


@pytest.fixture(scope="module")
def result(log, fit):
    return channel_result(fit, combinations_of(log), settings=SETTINGS, rng=np.random.default_rng(3))


def test_multipliers_are_of_each_level_against_the_average(fit, result):
    springs = {item.level: item for item in result.multipliers if item.term == "spring type"}
    assert set(springs) == {"Plain 46", "Stepped 46"}
    product = springs["Plain 46"].multiplier * springs["Stepped 46"].multiplier
    assert product == pytest.approx(1.0, abs=1e-6)  # two levels sum to zero on the log scale
    # The truth, 0.7 against the other spring, is the square of one level against their average.
    assert springs["Stepped 46"].low < np.sqrt(0.7) < springs["Stepped 46"].high
    assert springs["Stepped 46"].multiplier < 1 < springs["Plain 46"].multiplier
    for item in result.multipliers:
        assert 0 < item.low < item.multiplier < item.high
    assert sum(item.drains for item in springs.values()) == fit.drains.low.size
    assert all(item.units <= 12 for item in springs.values())
    assert {item.level for item in result.multipliers if item.term == "rider"} == {"Brask", "Ollin", "Tevik"}


def test_multipliers_are_medians_of_exp_minus_effect_over_slope(fit, result):
    term, span = fit.drains.terms[0], fit.drains.spans()[0]
    draws = np.exp(-(fit.coefficients[:, span] @ term.contrasts[1]) / fit.hours_slope)
    item = next(item for item in result.multipliers if item.level == term.levels[1])
    assert (item.low, item.multiplier, item.high) == pytest.approx(tuple(np.quantile(draws, (0.05, 0.5, 0.95))))


def test_prior_movement_names_every_parameter_and_shows_what_the_log_said(result):
    moved = {item.parameter: item for item in result.prior_movement}
    about_riders = ["rider", "sd between levels of rider"]
    expected = ["hours slope", "sd between units", "spring type", *about_riders, "hours on the part"]
    assert list(moved) == expected
    assert moved["hours slope"].ratio < 0.5
    assert moved["spring type"].ratio < 0.5
    assert moved["hours slope"].prior_sd == SETTINGS.priors.hours_slope_log_sd


def test_curves_rise_between_their_bounds_and_stop_at_the_data_range(log, result):
    longest = log["oil_hours"].max()
    for curve in (result.fleet_curve, *result.curves):
        assert curve.hours[-1] == pytest.approx(longest * SETTINGS.data_range_factor)
        assert np.all(np.diff(curve.risk) >= -1e-12)
        assert np.all((curve.low <= curve.risk) & (curve.risk <= curve.high))
        assert np.all((curve.low >= 0) & (curve.high <= 1))
    assert [curve.spring_type for curve in result.curves] == ["Plain 46", "Stepped 46"]
    assert np.all(result.curves[1].risk > result.curves[0].risk)


def test_the_fleet_curve_runs_with_the_steps_behind_it(result):
    inside = result.steps.hours > 8
    curve = np.interp(result.steps.hours, result.fleet_curve.hours, result.fleet_curve.risk)
    weights = result.steps.drains[inside]
    assert np.average(np.abs(curve - result.steps.share)[inside], weights=weights) < 0.12


def test_slope_and_spread_are_points_of_their_draws(fit, result):
    assert result.hours_slope == pytest.approx(tuple(np.quantile(fit.hours_slope, (0.5, 0.05, 0.95))))
    median, low, high = result.unit_spread
    assert 0 < low < median < high < 1


def test_ratings_past_the_limit_and_ranges_over_it():
    rows = (
        fleet_log()
        .head(4)
        .with_columns(pl.Series("debris_low", [1, 4, 3, 5]), pl.Series("debris_high", [3, 5, 4, 5]))
    )
    found = rating_rows(rows, "debris", limit=4)
    assert found["past_limit"].to_list() == [0, 1, None, 1]
    assert found.columns == [
        "unit_id",
        "site",
        "drained_on",
        "oil_hours",
        "rating_low",
        "rating_high",
        "past_limit",
    ]


def test_the_same_seed_gives_the_same_evidence(log, result):
    again = channel_result(fitted_fleet(log), combinations_of(log), settings=SETTINGS, rng=np.random.default_rng(3))
    assert again.multipliers == result.multipliers
    assert again.prior_movement == result.prior_movement
    assert again.curves[0].risk.tobytes() == result.curves[0].risk.tobytes()


# ---- what a reader must be told


def test_a_sound_fleet_needs_no_warning(log, result):
    assert result.diagnostics.trusted
    assert result.diagnostics.message == ""
    assert fit_warnings([result], log) == ()


def test_a_channel_without_ratings_says_so(log):
    drains = describe_channel(log, "colour")
    why = fit_channel(drains, SETTINGS, rng=np.random.default_rng(1))
    assert why == "no drain with known hours has a colour rating, so nothing can be said from colour"
    found = unfitted_result(drains, SETTINGS, why_not=why)
    assert found.ratings.height == 0
    assert fit_warnings([found], log) == (
        "Colour: no drain with known hours has a colour rating, so nothing can be said from colour.",
    )


def told(log):
    fit = fitted_fleet(log)
    return fit_warnings(
        [channel_result(fit, combinations_of(log), settings=SETTINGS, rng=np.random.default_rng(3))], log
    )


def test_one_number_of_hours_tells_nothing_of_hours(log):
    warnings = told(log.with_columns(oil_hours=pl.lit(15.0)))
    assert warnings == (
        "Debris: the log cannot tell hours apart (drains at 15 to 15 h); how ratings grow with hours is the prior's "
        "word. Stagger some drains, some earlier, some later within the limits.",
    )


def test_nothing_past_the_limit_asks_for_cautious_steps(log):
    warnings = told(
        log.with_columns(
            debris_low=pl.col("debris_low").clip(upper_bound=3), debris_high=pl.col("debris_high").clip(upper_bound=3)
        )
    )
    longest = log["oil_hours"].max()
    assert warnings == (
        f"Debris: no drain was past the limit, so the limit is beyond the longest fill seen ({longest:.3g} h); "
        "go further in cautious steps only.",
    )


def test_every_drain_past_the_limit_and_every_drain_clean():
    past = told(fleet_log(ratings=5))
    assert "Debris: every drain was past the limit; the safe hours lie below all of them." in past
    clean = told(fleet_log(ratings=1))
    assert "Every rating in the log is 1: ask whether anyone looks." in clean
    assert any(text.startswith("Debris: no drain was past the limit") for text in clean)


def test_draws_that_did_not_reach_their_goals_are_named(log, fit):
    rough = replace(fit, posterior=replace(fit.posterior, trusted=False))
    found = channel_result(rough, combinations_of(log), settings=SETTINGS, rng=np.random.default_rng(3))
    assert not found.diagnostics.trusted
    assert fit_warnings([found], log) == (
        "Debris: the spread of the answers is rough: the draws did not reach their goals; ranges may be too narrow.",
    )
    unsettled = replace(fit, fit=replace(fit.fit, converged=False))
    found = channel_result(unsettled, combinations_of(log), settings=SETTINGS, rng=np.random.default_rng(3))
    assert not found.diagnostics.trusted
    assert fit_warnings([found], log)[0].startswith("Debris: the fit did not settle")


def test_prior_movement_is_a_ratio():
    assert PriorMovement("hours slope", "", 0.5, 0.25).ratio == 0.5
