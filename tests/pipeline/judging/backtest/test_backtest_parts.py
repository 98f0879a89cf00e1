from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.judging.backtest.baseline_predictions import fleet_by_hours, fleet_distribution
from draincurve.pipeline.judging.backtest.binomial_intervals import count_range
from draincurve.pipeline.judging.backtest.forecast_windows import FEWEST_BEFORE, FEWEST_ROWS, windows
from draincurve.pipeline.judging.backtest.interval_coverage import share_inside
from draincurve.pipeline.judging.backtest.proper_scores import ranked_probability_scores
from draincurve.pipeline.judging.backtest.risk_calibration import calibration_bins, risk_check
from draincurve.pipeline.judging.backtest.score_comparison import FEWEST_UNITS, compared


@given(
    offsets=st.lists(st.integers(0, 60), min_size=0, max_size=80),
    origins=st.integers(1, 15),
)
def test_windows_cover_the_rest_of_the_log_once(offsets, origins):
    days = pl.Series("drained_on", [date(2025, 1, 1) + timedelta(days) for days in offsets], dtype=pl.Date)
    found = windows(days, origins)
    if isinstance(found, str):
        firsts = sum(day < max(offsets, default=0) for day in offsets)
        assert len(offsets) < FEWEST_ROWS or firsts < FEWEST_BEFORE
        return
    frame = days.to_frame()
    inside = [frame.filter(window.inside()).height for window in found]
    assert 1 <= len(found) <= origins
    assert all(count > 0 for count in inside)
    assert frame.filter(found[0].before()).height >= FEWEST_BEFORE
    assert frame.filter(found[0].before()).height + sum(inside) == len(offsets)


def test_fleet_distribution_counts_ranges_in_parts():
    shares = fleet_distribution(np.array([1, 1, 2, 2]), np.array([1, 1, 3, 2]))
    assert shares == pytest.approx(np.array([2.5, 2.0, 1.0, 0.5, 0.5]) / 6.5)
    assert fleet_distribution(np.array([], dtype=int), np.array([], dtype=int)) == pytest.approx(np.full(5, 0.2))


def test_like_hours_are_quarters():
    hours = np.arange(1.0, 41.0)
    ratings = 1 + (hours > 20.5).astype(int)
    chances = fleet_by_hours(hours, ratings, high=ratings, hours=np.array([0.5, 15.0, 25.0, 99.0]))
    assert chances[:2, 0].min() > 0.8
    assert chances[2:, 1].min() > 0.8


def test_scores_leave_out_cuts_inside_a_range():
    chances = np.array([[0.1, 0.2, 0.3, 0.2, 0.2]] * 2)
    whole, part = ranked_probability_scores(chances, np.array([2, 2]), high=np.array([2, 3]))
    assert whole == pytest.approx((0.1**2 + 0.7**2 + 0.4**2 + 0.2**2) / 4)
    assert part == pytest.approx((0.1**2 + 0.4**2 + 0.2**2) / 4)


@given(seed=st.integers(0, 1000))
def test_the_score_is_proper(seed):
    """Saying the true chances scores best on average: an exact sum over the ratings."""
    rng = np.random.default_rng(seed)
    true, other = rng.dirichlet(np.ones(5)), rng.dirichlet(np.ones(5))
    ratings = np.arange(1, 6)
    expected = [
        true @ ranked_probability_scores(np.tile(said, (5, 1)), ratings, high=ratings) for said in (true, other)
    ]
    assert expected[0] <= expected[1] + 1e-12


@given(seed=st.integers(0, 1000), nominal=st.sampled_from([0.5, 0.8, 0.9]))
def test_coverage_is_nominal_where_the_chances_are_true(seed, nominal):
    """The mean share inside, each rating weighed by its true chance, is the nominal one to the last digit."""
    chances = np.random.default_rng(seed).dirichlet(np.full(5, 0.4))
    ratings = np.arange(1, 6)
    inside = share_inside(np.tile(chances, (5, 1)), ratings, high=ratings, nominal=nominal)
    assert chances @ inside == pytest.approx(nominal, abs=1e-9)


def test_bins_hold_every_drain_in_order():
    rng = np.random.default_rng(4)
    risk = rng.uniform(size=333)
    past = (rng.uniform(size=333) < risk).astype(float)
    bins = calibration_bins(risk, past)
    assert sum(item.drains for item in bins) == 333
    assert sum(item.past for item in bins) == past.sum()
    assert all(one.highest <= two.lowest for one, two in pairwise(bins))
    assert all(item.low <= item.share <= item.high for item in bins)
    assert calibration_bins(np.empty(0), np.empty(0)) == ()


def test_a_check_tells_understated_risk():
    assert risk_check(np.full(60, 0.05), np.r_[np.ones(12), np.zeros(48)]).understated
    assert not risk_check(np.full(60, 0.05), np.r_[np.ones(4), np.zeros(56)]).understated
    assert risk_check(np.empty(0), np.empty(0)) is None


def test_whole_units_are_resampled():
    """A lead that comes from one unit only is no more than chance, however many drains it has."""
    units = np.repeat(np.array([f"F{number}" for number in range(8)], dtype=object), 40)
    theirs = np.full(320, 0.2)
    ours = np.where(units == "F0", 0.0, 0.2)
    one = compared("rival", ours, theirs=theirs, units=units, rng=np.random.default_rng(1))
    assert one.difference == pytest.approx(-0.025)
    assert not one.beaten
    assert compared("rival", theirs - 0.01, theirs=theirs, units=units, rng=np.random.default_rng(1)).beaten
    few = units < f"F{FEWEST_UNITS - 1}"
    assert (
        compared("rival", ours[few], theirs=theirs[few], units=units[few], rng=np.random.default_rng(1)).low is None
    )


def test_count_range_agrees_with_the_binomial():
    from scipy.stats import binom

    for trials, chance in ((30, 0.1), (200, 0.03), (5, 0.5)):
        expected = tuple(int(point) for point in binom.ppf((0.025, 0.975), trials, chance))
        assert count_range(np.full(trials, chance)) == expected
    assert count_range(np.empty(0)) == (0, 0)
