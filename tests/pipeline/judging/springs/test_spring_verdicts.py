"""Verdicts on a pair of springs, and what a shop is told of them, on pairs whose numbers are given."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from draincurve.pipeline.judging.springs.identifiability import Separation
from draincurve.pipeline.judging.springs.pair_evidence import PairEvidence
from draincurve.pipeline.judging.springs.pair_tests import MergedTest
from draincurve.pipeline.judging.springs.spring_verdicts import (
    CANNOT_TELL,
    NO_DIFFERENCE,
    SHEDS_LESS,
    SHEDS_MORE,
    rounded_up,
    separable_reason,
    verdict,
)

Z_OF_TEST_AND_POWER = 1.959964 + 0.841621
"""Two-sided 5 % and 80 % power (Cohen 1988)."""


def merged(information: float) -> MergedTest:
    return MergedTest(statistic=6.6, p_value=0.01, information=information, unit_scores=np.zeros(8))


SHEDS = PairEvidence(
    spring_type="Stepped",
    compared_with="Plain",
    multiplier_range=(0.5, 0.6, 0.75),
    separation=Separation(1.0, ()),
    lone_unit=None,
    test=merged(40.0),
    p_permutation=0.002,
    drains=100,
    units=10,
    shared_riders=2,
    shared_oils=1,
    hours_slope=2.4,
    drain_information=0.4,
    sound=True,
)
"""A pair whose first spring has 0.6 times the hours, with every sign of it."""

OPEN = replace(SHEDS, multiplier_range=(0.7, 0.9, 1.2))
"""A pair whose range holds 1."""


def needing(more: int, drains: int = 100, units: int = 10) -> PairEvidence:
    """An open pair of which this many drains more would tell: information grows with the drains."""
    wanted = (Z_OF_TEST_AND_POWER / (2.4 * math.log(1.15))) ** 2
    test = merged(wanted / (1.0 + (more - 0.5) / drains))
    return replace(OPEN, multiplier_range=(0.7, 1.0, 1.2), drains=drains, units=units, test=test)


@pytest.mark.parametrize(
    ("changes", "p_adjusted", "called"),
    [
        ({}, 0.003, SHEDS_MORE),
        ({"multiplier_range": (1.3, 1.6, 1.9)}, 0.003, SHEDS_LESS),
        ({"multiplier_range": (0.9, 1.0, 1.1)}, 0.9, NO_DIFFERENCE),
        ({"multiplier_range": (0.6, 1.0, 1.1)}, 0.9, CANNOT_TELL),
        ({"multiplier_range": (0.9, 1.0, 1.6)}, 0.9, CANNOT_TELL),
        ({"sound": False}, 0.003, CANNOT_TELL),
        ({"lone_unit": "F07", "multiplier_range": None}, 0.003, CANNOT_TELL),
        ({"separation": Separation(math.inf, ("rider",)), "multiplier_range": None}, 0.003, CANNOT_TELL),
    ],
)
def test_one_of_four_verdicts(changes, p_adjusted, called):
    """Fewer hours is more shed; a range within 1/1.15 to 1.15 is no practical difference."""
    assert verdict(replace(SHEDS, **changes), p_adjusted) == called


def test_a_range_that_just_fits_is_no_practical_difference():
    def called(low, high):
        return verdict(replace(SHEDS, multiplier_range=(low, 1.0, high)), 0.9)

    assert called(1 / 1.15, 1.15) == NO_DIFFERENCE
    assert called(0.8695, 1.15) == CANNOT_TELL
    assert called(1 / 1.15, 1.1501) == CANNOT_TELL


@pytest.mark.parametrize("ends", [(1.0, 1.4, 1.9), (0.5, 0.7, 1.0)])
def test_a_range_that_ends_at_one_holds_one(ends):
    """Called only where the whole range is on one side of 1."""
    assert verdict(replace(SHEDS, multiplier_range=ends), 0.001) == CANNOT_TELL


def test_all_three_signs_are_needed_and_each_counts_up_to_five_percent():
    assert verdict(SHEDS, 0.05) == SHEDS_MORE
    assert verdict(SHEDS, 0.0501) == CANNOT_TELL
    assert verdict(SHEDS, None) == CANNOT_TELL
    assert verdict(replace(SHEDS, p_permutation=0.05), 0.003) == SHEDS_MORE
    assert verdict(replace(SHEDS, p_permutation=0.0501), 0.003) == CANNOT_TELL
    assert verdict(replace(SHEDS, p_permutation=None), 0.003) == CANNOT_TELL


def test_the_sentence_of_a_difference():
    assert separable_reason(SHEDS, 0.0304, tests=3) == (
        "The 90 % range, 0.50 to 0.75x the hours, is all on one side of 1; the difference holds after correction for "
        "3 tests (p 0.03) and when names are exchanged in whole units (p 0.002)."
    )
    assert "correction for 1 test (p under 0.001)" in separable_reason(SHEDS, 0.0009, tests=1)
    assert "(p 0.001)" in separable_reason(SHEDS, 0.001, tests=1)


def test_the_sentence_of_no_practical_difference():
    alike = replace(SHEDS, multiplier_range=(0.91, 1.0, 1.08))
    assert separable_reason(alike, 0.8, tests=1) == (
        "The 90 % range, 0.91 to 1.08x the hours, is within 0.87 to 1.15x, too little to matter."
    )


@pytest.mark.parametrize(
    ("pair", "p_adjusted", "doubt"),
    [
        (OPEN, 0.3, "it includes 1, so oil may get dirty sooner on either spring. "),
        (SHEDS, 0.214, "the test over all pairs and channels does not bear it out (p 0.21). "),
        (SHEDS, None, "the test over all pairs and channels does not bear it out (p not known). "),
        (
            replace(SHEDS, units=5, p_permutation=None),
            0.01,
            "5 units are too few to check it over units, which takes 6. ",
        ),
        (
            replace(SHEDS, units=6, p_permutation=0.12),
            0.01,
            "a few units make it, since exchanging names in whole units gives as much (p 0.12). ",
        ),
        (replace(SHEDS, sound=False), 0.01, "the fit is rough. "),
    ],
)
def test_the_sentence_of_a_doubt(pair, p_adjusted, doubt):
    said = separable_reason(pair, p_adjusted, tests=1)
    low, _, high = pair.multiplier_range
    assert said.startswith(f"The 90 % range is {low:.2f} to {high:.2f}x the hours; {doubt}About ")
    assert said.count(";") == 1


@pytest.mark.parametrize(
    ("more", "drains", "said"),
    [
        (1, 100, "About 1 more drain on the two"),
        (2, 100, "About 2 more drains on the two"),
        (99, 100, "About 99 more drains on the two"),
        (101, 100, "About 110 more drains on the two"),
    ],
)
def test_how_many_drains_would_tell(more, drains, said):
    sentence = separable_reason(needing(more, drains), 0.3, tests=1)
    assert f"{said}, shared out over units as so far, would find a difference of 1.15x (80 % power)." in sentence


def test_drains_like_these_are_a_poor_plan_where_twenty_times_as_many_are_needed():
    better = " Drains whose ratings differ more, with hours staggered within the limits, tell more each."
    assert better not in separable_reason(needing(400, drains=20), 0.3, tests=1)
    assert separable_reason(needing(401, drains=20), 0.3, tests=1).endswith(better)


@pytest.mark.parametrize(
    ("more", "again"), [(100, ""), (101, "As many again (100) would find one of 1.15x or more.")]
)
def test_where_many_drains_are_needed_it_says_what_as_many_again_would_find(more, again):
    assert separable_reason(needing(more), 0.3, tests=1).split("(80 % power).")[1].strip() == again


@pytest.mark.parametrize("multiplier_range", [(0.7, 1.0, 1.2), (0.9, 1.0, 1.5)])
def test_what_as_many_again_would_find_and_the_range_rules_out_is_said_to_be(multiplier_range):
    """Twice the information finds exp(z / sqrt(2 information) / slope)."""

    def said(information: float) -> str:
        return separable_reason(
            replace(OPEN, multiplier_range=multiplier_range, test=merged(information)), 0.3, tests=1
        )

    width = Z_OF_TEST_AND_POWER / (2.4 * math.sqrt(2.0))
    limit = max(multiplier_range[2], 1.0 / multiplier_range[0])
    inside, outside = (width / math.log(limit + step) for step in (-0.02, 0.02))
    assert f"(100) would find one of {limit - 0.02:.2f}x or more." in said(inside**2)
    ruled_out = f"one of {limit + 0.02:.2f}x or more, and the range above rules that out already."
    assert f"(100) would find {ruled_out}" in said(outside**2)


def test_drains_that_tell_nothing_ask_for_staggered_hours():
    nothing = "Such drains tell nothing of it: stagger the hours within the limits, so that ratings differ."
    assert separable_reason(replace(OPEN, test=merged(0.0)), 0.3, tests=1).endswith(nothing)


def test_the_difference_sought_is_the_one_seen_where_it_is_larger():
    assert "find a difference of 1.25x" in separable_reason(
        replace(OPEN, multiplier_range=(0.7, 0.8, 1.2), test=merged(1.0)), 0.3, tests=1
    )


@pytest.mark.parametrize(
    ("count", "expected"),
    [(1, 1), (9, 9), (10, 10), (99, 99), (100, 100), (101, 110), (1234, 1300), (9901, 10_000)],
)
def test_counts_are_given_to_two_digits_and_never_too_low(count, expected):
    assert rounded_up(count) == expected


def test_conditions_that_differ_are_named_once_they_cost_a_quarter_of_the_width():
    def said(widening: float) -> str:
        return separable_reason(replace(SHEDS, separation=Separation(widening, ("rider",))), 0.003, tests=1)

    assert said(1.24).endswith("(p 0.002).")
    differ = "(p 0.002). Conditions differ between the springs, above all the rider: that makes the range"
    assert said(1.25).endswith(f"{differ} 1.2 times as wide.")
    assert said(2.34).endswith(f"{differ} 2.3 times as wide.")
