"""A planted odd leg is named, clean fleets name none, and what is built differently is not blamed.

Measured once: a pair was named in 10 of 100 clean fleets (8 forks, 12 drains a leg, oil in the legs of a fork within
8 %, one standard deviation; nominal at most 10 %), and no swap was asked about. With one leg at 0.4 of its partner's
hours it was named in 9 of 12 fleets of 5 forks and 15 drains a leg; at 0.35 in 11 of 12 of 8 forks and 20 drains.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from leg_logs import PairOptions, fits_of, forks, leg_log

from draincurve.pipeline.describing.leg_pairs import TOO_FEW
from draincurve.pipeline.judging.legs.leg_comparison import (
    BY_FUNCTION,
    DIFFERS,
    LIKE_OTHER_PAIRS,
    compare_legs,
    paule_mandel,
)
from draincurve.pipeline.judging.legs.leg_likelihood import FALSE_ALARM, GRID, WIDE_SD, own_estimates
from draincurve.schemas.settings import StandingRule

RULE = StandingRule()
ODD = PairOptions(pairs=8, drains=20, odd=((0, 0.33),))


@pytest.fixture(scope="module")
def odd_fits():
    return fits_of(leg_log(ODD, 7))


def test_an_odd_leg_is_named_with_its_evidence(odd_fits):
    first, *others = compare_legs(odd_fits, forks(8), rule=RULE)
    assert (first.verdict, first.named) == (DIFFERS, "P000L")
    assert first.p_adjusted <= FALSE_ALARM
    assert first.low < first.hours_ratio < first.high < 0.8
    assert first.usual_ratio < 1 / first.hours_ratio
    assert (first.drains_left, first.drains_right) == (20, 20)
    assert {pair.verdict for pair in others} == {LIKE_OTHER_PAIRS}
    assert {pair.named for pair in others} == {None}


def test_a_pair_that_differs_by_function_is_shown_and_not_blamed(odd_fits):
    first, *others = compare_legs(
        odd_fits, forks(8, by_function="the left leg is for spring, the right for damping"), rule=RULE
    )
    assert (first.verdict, first.named, first.p_adjusted) == (BY_FUNCTION, None, None)
    assert first.hours_ratio < 0.8
    assert {pair.verdict for pair in others} == {LIKE_OTHER_PAIRS}


def test_few_pairs_or_drains_name_nobody(odd_fits):
    assert {pair.verdict for pair in compare_legs(odd_fits, forks(3), rule=RULE)} == {TOO_FEW}
    strict = StandingRule(fewest_drains=21)
    assert {pair.verdict for pair in compare_legs(odd_fits, forks(8), rule=strict)} == {TOO_FEW}
    assert compare_legs(odd_fits, forks(3), rule=RULE)[0].hours_ratio < 0.8, "the difference is still shown"


def test_legs_without_ratings_are_left_as_they_are(odd_fits):
    unknown = forks(9)
    assert compare_legs(odd_fits, unknown, rule=RULE)[8] == unknown[8]
    assert compare_legs([], unknown, rule=RULE) == unknown
    assert compare_legs(odd_fits, (), rule=RULE) == ()


@pytest.mark.parametrize("seed", range(4))
def test_clean_fleets_name_nobody(seed):
    """Seeds chosen beforehand; over many fleets one in ten at most may name a pair."""
    found = compare_legs(fits_of(leg_log(PairOptions(), seed)), forks(8), rule=RULE)
    assert [pair.named for pair in found] == [None] * 8


@given(st.floats(-1.0, 1.0), st.floats(0.15, 1.0))
def test_a_legs_own_estimate_is_its_likelihood_without_the_wide_prior(place, sd):
    """A normal likelihood comes back whatever the prior was."""
    found, variance = own_estimates(-0.5 * np.square((GRID - place) / sd)[None, :])
    assert found[0] == pytest.approx(place, abs=0.05)
    assert variance[0] == pytest.approx(sd**2, rel=0.05)


def test_ratings_that_say_nothing_are_no_estimate():
    found, variance = own_estimates(np.zeros((1, GRID.size)))
    assert (found[0], variance[0]) == (0.0, np.inf)
    assert WIDE_SD > 0


def test_variance_between_effects():
    """Equal errors: the moment estimate mean(found^2) - own; nought where the errors explain it all."""
    found = np.array([[0.3, -0.5, 0.4, 0.1], [0.01, 0.0, -0.01, 0.02]])
    own = np.full(found.shape, 0.01)
    between = paule_mandel(found, own, number=np.array([4, 4]))
    assert between[0] == pytest.approx(np.mean(found[0] ** 2) - 0.01)
    assert between[1] == pytest.approx(0.0, abs=1e-12)


def test_a_large_fleet_is_laid_out_in_pieces(odd_fits, monkeypatch):
    from draincurve.pipeline.judging.legs import leg_comparison, leg_likelihood, leg_swaps

    whole = compare_legs(odd_fits, forks(8), rule=RULE)
    log = leg_log(ODD, 3)
    asked = leg_swaps.possible_swaps(odd_fits, forks(8), drains=log).swaps
    monkeypatch.setattr(leg_likelihood, "UNITS_AT_ONCE", 3)
    monkeypatch.setattr(leg_comparison, "PAIRS_AT_ONCE", 2)
    monkeypatch.setattr(leg_swaps, "PAIRS_AT_ONCE", 3)
    pieces = compare_legs(odd_fits, forks(8), rule=RULE)
    assert [pair.verdict for pair in pieces] == [pair.verdict for pair in whole]
    assert [pair.p_adjusted for pair in pieces] == pytest.approx([pair.p_adjusted for pair in whole])
    assert leg_swaps.possible_swaps(odd_fits, forks(8), drains=log).swaps == asked


def test_a_pair_rated_in_one_channel_only_is_shown_on_that(odd_fits):
    log = leg_log(ODD, 3)
    colour = fits_of(log.filter(~log["unit_key"].str.starts_with("P003")), ("colour",))
    found = compare_legs([*colour, odd_fits[1]], forks(8), rule=RULE)[3]
    assert (found.channel, found.drains_left) == ("debris", 20)
    assert np.isfinite(found.hours_ratio)
