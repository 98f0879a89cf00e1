"""Units that turned: false alarms, delay, and what must raise no alarm."""

import dataclasses

import numpy as np
import polars as pl
import pytest
from watched_fleets import SLOPE, FleetOptions, watched_fit, watched_log

from draincurve.pipeline.judging.changepoints.alarm_threshold import (
    BY_CHANCE_IN_A_FLEET,
    LEAST_SHARE_BY_CHANCE,
    LOWEST_THRESHOLD,
    alarm_threshold,
)
from draincurve.pipeline.judging.changepoints.cusum import excursion_tops, running_tops, upper_cusum
from draincurve.pipeline.judging.changepoints.monitored_drains import DRAINS_TO_KNOW, monitored_drains
from draincurve.pipeline.judging.changepoints.unit_changepoints import (
    DRAINS_PER_FALSE_ALARM,
    find_changepoints,
    turned_column,
)

WITH_TURNED = FleetOptions(units=14, drains=20, spread=0.4, turned=((5, 13),), ratio=0.35, fast=(2,))


@pytest.fixture(scope="module")
def steady():
    return watched_fit(watched_log(FleetOptions(units=12, drains=14)))


@pytest.fixture(scope="module")
def with_turned():
    return watched_fit(watched_log(WITH_TURNED, seed=5))


def tops_of(watched, ratings):
    return running_tops(watched.sums(watched.scores(*ratings)), watched.restart)


def test_excursions_end_at_zero_at_a_restart_and_at_the_end():
    scores = np.array([[1.0, 2.0, -9.0, 3.0, 1.0, 0.5], [0.0, 0.0, 0.0, 0.0, 0.0, 2.0]])
    restart = np.array([True, False, False, False, True, False])
    sums = upper_cusum(scores, restart, 0.5)
    np.testing.assert_allclose(sums, [[0.5, 2.0, 0.0, 2.5, 0.5, 0.5], [0, 0, 0, 0, 0, 1.5]])
    tops = running_tops(sums, restart)
    np.testing.assert_allclose(np.sort(excursion_tops(tops, restart)), [0.5, 1.5, 2.0, 2.5])


def test_false_alarms_are_as_rare_as_promised_in_a_simulation_of_their_own(steady):
    watched = monitored_drains(steady)
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
    watched = monitored_drains(steady)
    threshold = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=np.random.default_rng(1)).value
    place = np.arange(watched.unit.size) - watched.starts[watched.unit]
    late = watched.drains._replace(fixed=watched.drains.fixed + np.where(place >= 6, SLOPE * np.log(2.0), 0.0))
    ratings = dataclasses.replace(watched, drains=late).simulated_ratings(1500, np.random.default_rng(7))
    within_eight = np.mean(tops_of(watched, ratings)[:, place == 13] > threshold)
    steady_ratings = watched.simulated_ratings(1500, np.random.default_rng(8))
    by_chance = np.mean(tops_of(watched, steady_ratings)[:, place == 13] > threshold)
    assert within_eight > 0.35
    assert within_eight > 8 * by_chance


def test_the_unit_that_turned_is_named_with_its_date_and_the_one_that_was_always_fast_is_not(with_turned):
    found = find_changepoints(with_turned, np.random.default_rng(3))
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
    one, other = (find_changepoints(with_turned, np.random.default_rng(3)) for _ in range(2))
    assert one.verdicts.equals(other.verdicts)
    assert one.threshold == other.threshold


def test_a_rebuild_begins_anew():
    options = dataclasses.replace(WITH_TURNED, rebuilt=((5, 19),))
    found = find_changepoints(watched_fit(watched_log(options, seed=5)), np.random.default_rng(3))
    assert found.verdicts.filter(pl.col("unit_key") == "u005")["turned"].to_list() == [None]


def test_one_odd_rating_is_no_change(steady):
    watched = monitored_drains(steady)
    quiet = np.full((1, watched.unit.size), 2, dtype=np.int64)
    odd = quiet.copy()
    odd[0, watched.starts[1] - 1] = 5
    assert watched.sums(watched.scores(odd, odd)).max() <= LOWEST_THRESHOLD


def test_too_few_drains_say_nothing():
    found = find_changepoints(watched_fit(watched_log(FleetOptions(units=4, drains=4))), np.random.default_rng(3))
    assert found.threshold is None
    assert found.verdicts["turned"].null_count() == 4


def test_a_log_of_one_row_says_nothing():
    log = watched_log(FleetOptions(units=1, drains=1, raters=("KB",)))
    found = find_changepoints(watched_fit(log), np.random.default_rng(3))
    assert turned_column({"debris": found}, ["u000"])["turned"].to_list() == [None]


def test_large_fleets_list_few_units_by_chance():
    log = watched_log(FleetOptions(units=150, drains=6, raters=("KB",)))
    watched = monitored_drains(watched_fit(log))
    found = alarm_threshold(watched, DRAINS_PER_FALSE_ALARM, rng=np.random.default_rng(1))
    assert found.standing_by_chance <= LEAST_SHARE_BY_CHANCE + 1e-9


def test_the_column_takes_the_channel_furthest_over_its_threshold(with_turned):
    debris = find_changepoints(with_turned, np.random.default_rng(3))
    weaker = pl.when("turned").then(1.01).otherwise("share_of_threshold").alias("share_of_threshold")
    colour = dataclasses.replace(debris, verdicts=debris.verdicts.with_columns(weaker))
    keys = ["u005", "u000", "nobody"]
    table = turned_column({"colour": colour, "debris": debris}, keys)
    assert table["unit_key"].to_list() == keys
    assert table["turned"].to_list() == [True, False, None]
    assert table["channel"].to_list() == ["debris", None, None]
    assert table["turned_since"].null_count() == 2
    assert turned_column({}, keys)["turned"].null_count() == 3
