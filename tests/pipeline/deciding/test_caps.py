from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.deciding.caps import binding_limit, data_range_limit, round_down, shorter_limit, wear_limit
from draincurve.schemas.errors import ContractError

hours = st.floats(0.0, 1e4)
steps = st.sampled_from([0.1, 0.25, 0.5, 1.0, 0.3, 1 / 3, 2.5, 0.01])


@given(hours, steps)
def test_rounding_is_down_in_whole_steps_and_never_over(value, step):
    rounded = round_down(np.array([value]), step)[0]
    assert rounded <= value * (1 + 1e-9)
    assert value - rounded < step + 0.001
    assert abs(rounded / step - round(rounded / step)) * step <= 0.001


@pytest.mark.parametrize(
    ("value", "step", "wanted"), [(0.3, 0.1, 0.3), (0.7, 0.1, 0.7), (12.49, 0.5, 12.0), (0.4, 0.5, 0)]
)
def test_whole_steps_survive_the_last_binary_digit(value, step, wanted):
    assert round_down(np.array([value]), step)[0] == wanted


def test_infinite_hours_stay_infinite():
    assert np.isinf(round_down(np.array([np.inf]), 0.5)[0])


@given(st.lists(st.tuples(hours, hours, hours), min_size=1, max_size=10))
def test_the_smallest_limit_binds_and_is_named(rows):
    limits = dict(zip(("oil", "maker_limit", "data_range"), np.array(rows).T, strict=True))
    bound = binding_limit(limits, len(rows))
    for i, row in enumerate(rows):
        assert bound.hours[i] == min(row)
        assert limits[bound.set_by[i]][i] == min(row)


def test_without_limits_nothing_is_set_and_a_rule_is_named_before_an_equal_estimate():
    nothing = binding_limit({}, 2)
    assert (nothing.hours.tolist(), nothing.set_by.tolist()) == ([np.inf, np.inf], [None, None])
    free = binding_limit({"maker_limit": np.array([np.inf, np.nan])}, 2)
    assert free.set_by.tolist() == [None, None]
    tie = binding_limit({"oil": np.array([10.0]), "maker_limit": np.array([10.0])}, 1)
    assert tie.set_by.tolist() == ["maker_limit"]


def test_a_limit_that_has_no_rank_is_refused_and_never_left_out():
    limits = {name: np.array([3.0]) for name in ("noise", "oil", "heat")}
    said = "^limits without a rank: heat, noise; the order of limits names maker_limit, wear, data_range, oil$"
    with pytest.raises(ContractError, match=said):
        binding_limit(limits, 1)


def test_the_shorter_of_own_and_fleet_limit_stands():
    own = pl.Series([8.0, 20.0, None])
    assert shorter_limit(own, 15.0).tolist() == [8.0, 15.0, 15.0]
    assert shorter_limit(own, None).tolist() == [8.0, 20.0, np.inf]


def test_a_limit_that_does_not_apply_leaves_the_others():
    bound = binding_limit({"maker_limit": np.array([np.nan, np.inf]), "oil": np.array([5.0, 6.0])}, 2)
    assert (bound.hours.tolist(), bound.set_by.tolist()) == ([5.0, 6.0], ["oil", "oil"])


def test_limits_are_named_in_the_order_of_certainty():
    """The maker's word, then what was measured, then the range of the data, then the estimate."""
    names = ["maker_limit", "wear", "data_range", "oil"]
    for first, name in enumerate(names):
        tied = {other: np.array([10.0]) for other in names[first:]}
        assert binding_limit(dict(reversed(tied.items())), 1).set_by.tolist() == [name]


def test_a_wear_point_is_a_limit_and_none_is_none():
    state = pl.DataFrame({"unit_key": ["a", "b"], "wear_h": [7.5, None]})
    assert wear_limit(state).tolist() == [7.5, np.inf]
    assert wear_limit(state.drop("wear_h")).tolist() == [np.inf, np.inf]


def test_limits_in_whole_days_are_limits_too():
    assert shorter_limit(pl.Series([30, None]), 20.0).tolist() == [20.0, 20.0]


def test_a_spring_never_drained_or_not_known_gets_the_shortest_known_range():
    longest = pl.DataFrame({"spring_type": ["steel", "light"], "longest_h": [20.0, 12.0]})
    limit = data_range_limit(pl.Series(["steel", "light", "new", None]), longest, 1.25)
    assert limit.tolist() == [25.0, 15.0, 15.0, 15.0]
    assert np.isinf(data_range_limit(pl.Series(["steel"]), longest.clear(), 1.25)).all()
