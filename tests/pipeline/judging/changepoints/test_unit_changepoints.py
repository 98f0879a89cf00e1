"""Units that turned: false alarms, delay, and what must raise no alarm."""

import dataclasses

import numpy as np
import polars as pl
import pytest
from judged_log import fitted_fleet
from watched_fleets import SLOPE, FleetOptions, watched_log

from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.joint.joint_fit import join_channels
from draincurve.pipeline.judging.changepoints.alarm_threshold import (
    BY_CHANCE_IN_A_FLEET,
    LEAST_SHARE_BY_CHANCE,
    LOWEST_THRESHOLD,
    alarm_threshold,
)
from draincurve.pipeline.judging.changepoints.cusum import excursion_tops, running_tops
from draincurve.pipeline.judging.changepoints.monitored_drains import DRAINS_TO_KNOW, monitored_drains
from draincurve.pipeline.judging.changepoints.unit_changepoints import (
    DRAINS_PER_FALSE_ALARM,
    find_changepoints,
    turned_column,
)
from draincurve.schemas.settings import Settings
from tests.pipeline.fitting.joint.joined_channels import drains_of, fits_of

PRIORS = Settings().priors
WITH_TURNED = FleetOptions(units=14, drains=20, spread=0.4, turned=((5, 13),), ratio=0.35, fast=(2,))


def oil_of(log):
    return OilFit({"debris": fitted_fleet(log)}, None)


def monitored_of(oil):
    return monitored_drains(oil, PRIORS, rng=np.random.default_rng(2))


def found_in(oil, seed=3):
    return find_changepoints(oil, PRIORS, rng=np.random.default_rng(seed))


@pytest.fixture(scope="module")
def steady():
    """Two channels, units and drains of one kind; a unit of the second is rated in every other drain only."""
    drains = drains_of(12, 14, 0.8, 6.0, seed=4)
    some = np.flatnonzero((drains.unit != 3) | (np.arange(drains.unit.size) % 2 == 0))
    return OilFit(*join_channels(fits_of(drains, colour=some), PRIORS, rng=np.random.default_rng(1)))


@pytest.fixture(scope="module")
def with_turned():
    return oil_of(watched_log(WITH_TURNED, seed=5))


def tops_of(watched, ratings):
    return running_tops(watched.sums(*ratings)[0], watched.restart)


def test_false_alarms_are_as_rare_as_promised_in_a_simulation_of_their_own(steady):
    watched = monitored_of(steady)
    found = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=np.random.default_rng(1))
    ratings = watched.simulated_ratings(4000, np.random.default_rng(99))
    tops = tops_of(watched, ratings)
    alarms = np.sum(excursion_tops(tops, watched.restart) > found.value)
    monitored = 4000 * watched.monitored.sum()
    assert monitored / alarms == pytest.approx(found.drains_per_false_alarm, rel=0.15)
    assert found.drains_per_false_alarm >= DRAINS_PER_FALSE_ALARM
    last = watched.starts[1:] - 1
    assert np.mean(tops[:, last] > found.value) == pytest.approx(found.standing_by_chance, rel=0.15)
    assert found.standing_by_chance * last.size <= BY_CHANCE_IN_A_FLEET + 1e-9


def test_a_unit_at_half_the_hours_is_found_sooner_than_chance_would_find_it(steady):
    watched = monitored_of(steady)
    threshold = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=np.random.default_rng(1)).value
    place = np.arange(watched.unit.size) - watched.starts[watched.unit]
    late = watched.model._replace(fixed=watched.model.fixed + np.where(place >= 6, SLOPE * np.log(2.0), 0.0))
    ratings = dataclasses.replace(watched, model=late).simulated_ratings(1500, np.random.default_rng(7))
    within_eight = np.mean(tops_of(watched, ratings)[:, place == 13] > threshold)
    steady_ratings = watched.simulated_ratings(1500, np.random.default_rng(8))
    by_chance = np.mean(tops_of(watched, steady_ratings)[:, place == 13] > threshold)
    assert within_eight > 0.35
    assert within_eight > 8 * by_chance


def test_the_unit_that_turned_is_named_with_its_date_and_the_one_that_was_always_fast_is_not(with_turned):
    found = found_in(with_turned)
    turned = found.verdicts.filter("turned")
    assert turned["unit_key"].to_list() == ["u005"]
    dates, sums = found.path("u005")
    assert dates.size == sums.size == 20
    since, signalled = turned["turned_since"][0], turned["signalled_on"][0]
    assert since >= dates[10].astype(object)
    assert since <= signalled
    assert sums.max() > found.threshold.value
    assert np.all(sums[:DRAINS_TO_KNOW] == 0.0)


def test_the_answer_is_the_same_on_a_rerun(with_turned):
    one, other = (found_in(with_turned) for _ in range(2))
    assert one.verdicts.equals(other.verdicts)
    assert one.threshold == other.threshold


def test_a_rebuild_begins_anew():
    options = dataclasses.replace(WITH_TURNED, rebuilt=((5, 19),))
    found = found_in(oil_of(watched_log(options, seed=5)))
    assert found.verdicts.filter(pl.col("unit_key") == "u005")["turned"].to_list() == [None]


def test_one_odd_drain_is_no_change(steady):
    watched = monitored_of(steady)
    odd = np.full((2, 1, watched.unit.size), 2, dtype=np.int64)
    odd[:, 0, watched.starts[1] - 1] = 5
    assert watched.sums(odd, odd)[0].max() <= LOWEST_THRESHOLD


def test_simulated_ratings_are_joined_as_the_fit_says_and_missing_ones_stay_missing(steady):
    watched = monitored_of(steady)
    joined = dataclasses.replace(
        watched, correlations=np.array([0.9]), model=watched.model._replace(odds_ratios=np.array([20.0]))
    )
    low, high = joined.simulated_ratings(400, np.random.default_rng(5))
    missing = (watched.high - watched.low) == 4
    assert missing[0].sum() == 7
    assert np.all(low[:, :, :][0][:, missing[0]] == 1)
    assert np.all(high[0][:, missing[0]] == 5)
    rated = ~missing.any(axis=0)
    apart = dataclasses.replace(
        watched, correlations=np.zeros(1), model=watched.model._replace(odds_ratios=np.ones(1))
    ).simulated_ratings(400, np.random.default_rng(5))[0]
    for ratings, expected in ((low, 0.65), (apart, 0.25)):
        both = np.corrcoef(ratings[0][:, rated].ravel(), ratings[1][:, rated].ravel())[0, 1]
        assert both == pytest.approx(expected, abs=0.12)


def test_a_channel_that_begins_late_is_known_before_it_counts():
    drains = drains_of(6, 10, 0.5, 1.0, seed=8)
    late = np.flatnonzero(np.arange(drains.unit.size) % 10 >= 4)
    watched = monitored_of(OilFit(*join_channels(fits_of(drains, debris=late), PRIORS, rng=np.random.default_rng(1))))
    assert watched.counted[:, :10].sum(axis=1).tolist() == [6, 2]


def test_too_few_drains_say_nothing():
    found = found_in(oil_of(watched_log(FleetOptions(units=4, drains=4))))
    assert found.threshold is None
    assert found.verdicts["turned"].null_count() == 4


def test_a_log_of_one_row_says_nothing():
    log = watched_log(FleetOptions(units=1, drains=1, raters=("KB",)))
    found = found_in(oil_of(log))
    assert turned_column(found, ["u000"])["turned"].to_list() == [None]


def test_large_fleets_list_few_units_by_chance():
    log = watched_log(FleetOptions(units=150, drains=6, raters=("KB",)))
    watched = monitored_of(oil_of(log))
    found = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=np.random.default_rng(1))
    assert found.standing_by_chance <= LEAST_SHARE_BY_CHANCE + 1e-9


def test_the_column_has_every_unit_that_is_asked_for(with_turned):
    keys = ["u005", "u000", "nobody"]
    table = turned_column(found_in(with_turned), keys)
    assert table["unit_key"].to_list() == keys
    assert table["turned"].to_list() == [True, False, None]
    assert turned_column(None, keys)["turned"].null_count() == 3


def test_without_a_fit_nothing_is_watched():
    assert found_in(OilFit({}, None)) is None


@pytest.mark.parametrize(("shows", "named"), [((0, 1), ["colour", "debris"]), ((1,), ["debris"])])
def test_a_change_is_found_on_both_channels_or_on_one_and_named(shows, named):
    drains = drains_of(12, 16, 0.5, 2.0, seed=11)
    late = (drains.unit == 5) & (np.arange(drains.unit.size) % 16 >= 8)
    for side in shows:
        drains.ratings[side, late] = 5
    found = found_in(OilFit(*join_channels(fits_of(drains), PRIORS, rng=np.random.default_rng(1))))
    turned = found.verdicts.filter("turned")
    assert "u005" in turned["unit_key"]
    assert turned.filter(pl.col("unit_key") == "u005")["channels"].to_list() == [named]


def test_three_channels_are_chained(with_turned):
    """Two copies and a channel of its own: the copies are associated, and the sums are finite."""
    debris = with_turned.fits["debris"]
    other = fitted_fleet(watched_log(WITH_TURNED, seed=6))
    watched = monitored_of(OilFit({"one": debris, "two": debris, "three": other}, None))
    assert watched.model.patterns.sum(axis=1).tolist() == [3, 1, 1, 1]
    assert watched.model.odds_ratios[0] > 3 * watched.model.odds_ratios[1]
    sums, _ = watched.sums(watched.low[:, None], watched.high[:, None])
    assert np.all(np.isfinite(sums))
    assert sums[0, watched.starts[6] - 1] > 2.0
