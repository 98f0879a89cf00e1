"""Planted swaps are asked about with their day, by ratings or by hour meters; clean fleets ask nothing."""

from datetime import date, timedelta

import polars as pl
import pytest
from leg_logs import PairOptions, fits_of, forks, leg_log

from draincurve.pipeline.judging.legs.leg_swaps import possible_swaps

BEGIN = date(2025, 1, 1)


def day(drain):
    return BEGIN + timedelta(days=14 * drain)


def test_histories_that_cross_from_one_day_on_are_asked_about():
    log = leg_log(PairOptions(drains=20, odd=((1, 0.3),), swapped=((1, 10),), onwards=True), 2)
    (found,) = possible_swaps(fits_of(log), forks(8), drains=log).swaps
    assert (found.left, found.right, found.from_then_on, found.by_meter) == ("P001L", "P001R", True, False)
    assert abs((found.first_on - day(10)).days) <= 3 * 14
    assert found.times_likelier > 1000


@pytest.mark.parametrize(("onwards", "expected"), [(False, False), (True, True)])
def test_hour_meters_tell_a_swap_that_ratings_cannot(onwards, expected):
    log = leg_log(PairOptions(pairs=4, drains=8, swapped=((2, 4),), onwards=onwards, meters=True), 5)
    (found,) = possible_swaps(fits_of(log, ("debris",)), forks(4), drains=log).swaps
    assert (found.left, found.first_on, found.from_then_on, found.by_meter) == ("P002L", day(4), expected, True)


def test_meters_that_cross_need_no_fit():
    log = leg_log(PairOptions(pairs=2, drains=6, swapped=((0, 3),), meters=True), 3)
    (found,) = possible_swaps([], forks(2), drains=log).swaps
    assert (found.left, found.first_on, found.by_meter) == ("P000L", day(3), True)


@pytest.mark.parametrize("seed", range(3))
def test_clean_fleets_ask_nothing(seed):
    log = leg_log(PairOptions(pairs=6, odd=((0, 0.4),), meters=True), seed)
    assert possible_swaps(fits_of(log), forks(6), drains=log).swaps == ()


def test_legs_that_were_never_drained_together_or_not_at_all():
    log = leg_log(PairOptions(pairs=2, drains=4), 1)
    right = pl.col("unit_key").str.ends_with("R")
    apart = log.with_columns(pl.when(right).then(pl.col("drained_on") + pl.duration(days=1)).otherwise("drained_on"))
    assert possible_swaps(fits_of(apart, ("debris",)), forks(2), drains=apart).swaps == ()
    assert possible_swaps([], forks(2), drains=log.clear()).swaps == ()
    assert possible_swaps([], (), drains=log).swaps == ()


def test_where_a_swap_of_one_day_would_not_show_it_is_said():
    """Meters of their own would show it, and so would ratings of a pair that hardly has a level in common."""
    alike = leg_log(PairOptions(pairs=3, drains=8, odd=((0, 0.05),)), 5)
    assert possible_swaps(fits_of(alike), forks(3), drains=alike).unseen == ("P001L", "P002L")
    metered = leg_log(PairOptions(pairs=3, drains=8, meters=True), 5)
    assert possible_swaps([], forks(3), drains=metered).unseen == ()
    assert possible_swaps([], forks(2), drains=alike.clear()).unseen == ("P000L", "P001L")
