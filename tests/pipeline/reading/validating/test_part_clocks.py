"""The longest run of readings whose clock never falls."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.validating.part_clocks import longest_rising


@given(st.lists(st.integers(0, 6), max_size=8))
def test_as_long_as_any(values):
    kept = sorted(longest_rising(values))
    chosen = [values[place] for place in kept]
    assert chosen == sorted(chosen)
    longest = max(
        size
        for size in range(len(values) + 1)
        for places in combinations(values, size)
        if list(places) == sorted(places)
    )
    assert len(kept) == longest


def test_of_two_that_disagree_the_earlier_stays():
    assert longest_rising([40.0, 30.0]) == {0}
