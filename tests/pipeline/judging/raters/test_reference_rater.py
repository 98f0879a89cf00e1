"""The reference rater: predictions are for that rater's eye, and the report says whose eye it is."""

import numpy as np
import polars as pl
import pytest
from judged_log import fitted_fleet
from watched_fleets import LEVEL, NO_SECOND, FleetOptions, watched_log

from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.unit_thresholds import typical_threshold_draws
from draincurve.pipeline.judging.raters.rater_result import RaterResult, judge_raters
from draincurve.schemas.settings import Priors

FLEET = FleetOptions(units=30, drains=20, spread=0.3, bias=(("TW", LEVEL),))


def thresholds(fit: ChannelFit, rater: str | None) -> np.ndarray:
    """Draws of the threshold of rating 4 for a rater."""
    state = pl.DataFrame({"part_age": [0.0], "rated_by": [rater]}, schema_overrides={"rated_by": pl.String})
    return typical_threshold_draws(fit, state, limit=4, priors=Priors(), rng=np.random.default_rng(3))[0]


def judged(log: pl.DataFrame, reference: str | None) -> RaterResult:
    return judge_raters(fitted_fleet(log), log, second_ratings=NO_SECOND, reference=reference)


@pytest.fixture(scope="module")
def log() -> pl.DataFrame:
    return watched_log(FLEET)


def test_the_harsh_raters_limit_is_reached_sooner_and_the_lenient_raters_later(log):
    fit = fitted_fleet(log)
    average, harsh, lenient = (thresholds(fit, rater).mean() for rater in (None, "TW", "KB"))
    assert harsh < average < lenient
    assert average - harsh == pytest.approx(LEVEL * 2 / 3, abs=0.35)


def test_it_is_as_if_that_rater_had_rated_everything(log):
    """Drains of all raters against as many that TW alone rated, with the same units."""
    alone = fitted_fleet(watched_log(FleetOptions(units=30, drains=20, spread=0.3, raters=("TW",), bias=FLEET.bias)))
    fit = fitted_fleet(log)
    hours = np.exp(np.median(thresholds(fit, "TW") / fit.hours_slope))
    assert hours == pytest.approx(np.exp(np.median(thresholds(alone, None) / alone.hours_slope)), rel=0.1)


def test_without_a_reference_the_column_changes_nothing(log):
    fit = fitted_fleet(log)
    without = typical_threshold_draws(
        fit, pl.DataFrame({"part_age": [0.0]}), limit=4, priors=Priors(), rng=np.random.default_rng(3)
    )
    assert np.array_equal(without[0], thresholds(fit, None))


def test_a_reference_without_ratings_may_be_any_rater(log):
    fit = fitted_fleet(log)
    anybody, average = thresholds(fit, "somebody else"), thresholds(fit, None)
    assert anybody.std() > 1.2 * average.std()
    assert anybody.mean() == pytest.approx(average.mean(), abs=0.1)


@pytest.mark.parametrize(
    ("raters", "reference", "said", "rated"),
    [
        (("KB", "TW", "MO"), None, "The limits follow the average of 3 raters.", True),
        (("KB", "TW", "MO"), "TW", "The limits follow the eye of TW, the reference rater.", True),
        (
            ("KB", "TW", "MO"),
            "ZZ",
            "ZZ, the reference rater, rated nothing for this: the limits follow the average of 3 raters, with "
            "room for how much raters differ.",
            False,
        ),
        (("KB",), None, "The limits follow the eye of KB.", True),
        (("KB",), "KB", "The limits follow the eye of KB.", True),
        (
            ("KB",),
            "ZZ",
            "ZZ, the reference rater, rated nothing for this: the limits follow the eye of KB.",
            False,
        ),
        ((None,), "ZZ", "", False),
    ],
)
def test_the_reference_of_the_limits_is_named(raters, reference, said, rated):
    log = watched_log(FleetOptions(units=4, drains=6, raters=raters))
    result = judged(log.with_columns(pl.col("rated_by").cast(pl.String)), reference)
    assert result.reference_text == said
    assert result.reference_rated is rated


def test_raters_who_cannot_be_separated_are_followed_together():
    log = watched_log(FleetOptions(units=4, drains=6, raters=("KB", "TW")))
    by_spring = pl.when(pl.col("spring_type") == "Plain 46").then(pl.lit("KB")).otherwise(pl.lit("TW"))
    result = judged(log.with_columns(by_spring.alias("rated_by")), "TW")
    assert result.reference_text == "The limits follow the eyes of all 2 raters together, who cannot be separated."
