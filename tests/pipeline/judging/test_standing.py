import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.judging.standing import (
    FASTER,
    SLOWER,
    TOO_FEW,
    WITH_FLEET,
    fleet_standings,
    no_standings,
    ratio_standings,
)
from draincurve.schemas.settings import StandingRule

RULE = StandingRule()


def channel(name, **units):
    """A channel's standings: for each unit (rated, p_faster, p_slower)."""
    rows = [
        {
            "unit_key": key,
            "channel": name,
            "hours_ratio": 1.0 - p_faster / 2,
            "hours_ratio_low": 0.5,
            "hours_ratio_high": 1.5,
            "p_faster": p_faster,
            "p_slower": p_slower,
            "rated": rated,
        }
        for key, (rated, p_faster, p_slower) in units.items()
    ]
    return pl.DataFrame(rows)


def standings(units, rule=RULE):
    found = fleet_standings(units, rule)
    return dict(zip(found["unit_key"], found["standing"], strict=True))


def test_each_standing_has_its_rule():
    found = standings(channel("debris", a=(9, 0.95, 0.0), b=(9, 0.5, 0.1), c=(9, 0.0, 0.97), d=(2, 0.99, 0.0)))
    assert found == {"a": FASTER, "b": WITH_FLEET, "c": SLOWER, "d": TOO_FEW}


@pytest.mark.parametrize("rated", [0, 1, 2])
def test_units_with_few_drains_are_never_called(rated):
    assert standings(channel("debris", a=(rated, 1.0, 0.0), b=(rated, 0.0, 1.0))) == {"a": TOO_FEW, "b": TOO_FEW}
    assert standings(channel("debris", a=(3, 1.0, 0.0)))["a"] == FASTER


def test_the_expected_share_of_wrong_calls_stays_within_the_rule():
    """Each of five may be wrong by 0.2 at most; the rule allows 0.1 on average over those called."""
    rule = StandingRule(probability=0.8, false_discovery=0.1)
    chances = {"a": 0.99, "b": 0.95, "c": 0.85, "d": 0.81, "e": 0.80}
    found = standings(channel("debris", **{key: (9, p, 0.0) for key, p in chances.items()}), rule=rule)
    # Expected shares down the list: 0.010, 0.030, 0.070, 0.100, 0.120.
    assert found == {"a": FASTER, "b": FASTER, "c": FASTER, "d": FASTER, "e": WITH_FLEET}


@given(st.lists(st.tuples(st.integers(0, 12), st.floats(0, 1)), min_size=1, max_size=30))
def test_called_units_keep_every_rule_whatever_the_chances(units):
    rule = StandingRule(probability=0.8, false_discovery=0.1)
    frame = channel("debris", **{f"u{i}": (rated, p, 0.0) for i, (rated, p) in enumerate(units)})
    found = standings(frame, rule=rule)
    called = [(rated, p) for i, (rated, p) in enumerate(units) if found[f"u{i}"] == FASTER]
    assert all(rated >= rule.fewest_drains and p >= rule.probability for rated, p in called)
    if called:
        assert np.mean([1 - p for _, p in called]) <= rule.false_discovery + 1e-9


def test_units_that_are_alike_keep_their_order():
    """Else a tie at the rule's edge, and the rows of a table, would differ from run to run."""
    keys = [f"u{number}" for number in np.random.default_rng(3).permutation(2_000)]
    found = fleet_standings(channel("colour", **dict.fromkeys(keys, (9, 0.5, 0.0))), RULE)
    assert found["unit_key"].to_list() == keys


@pytest.mark.parametrize("standing", [FASTER, SLOWER])
def test_of_units_that_are_alike_the_first_are_called_as_far_as_the_rule_allows(standing):
    """20 sure ones allow as many that are wrong by 0.2 each; a probability at the rule is enough."""
    rule = StandingRule(probability=0.8, false_discovery=0.1 + 1e-9)
    keys = [f"u{number}" for number in np.random.default_rng(4).permutation(200)]
    probabilities = dict.fromkeys(keys, 0.8) | {f"sure{number}": 1.0 for number in range(20)}
    rows = {key: (9, p, 0.0) if standing == FASTER else (9, 0.0, p) for key, p in probabilities.items()}
    found = standings(channel("debris", **rows), rule=rule)
    assert [key for key in keys if found[key] == standing] == keys[:20]


def test_units_with_few_drains_do_not_make_up_for_the_doubt_about_others():
    """A sure unit lowers the mean share of wrong calls, but only if it is called itself."""
    rule = StandingRule(probability=0.8, false_discovery=0.1)
    slow = channel("debris", a=(9, 0.0, 0.85), few=(1, 0.0, 1.0))
    fast = channel("debris", a=(9, 0.85, 0.0), few=(1, 1.0, 0.0))
    assert standings(slow, rule=rule)["a"] == standings(fast, rule=rule)["a"] == WITH_FLEET
    both = channel("debris", a=(9, 0.85, 0.0), sure=(9, 1.0, 0.0))
    assert standings(both, rule=rule)["a"] == FASTER


def test_without_a_least_probability_the_share_of_wrong_calls_alone_cuts_the_list():
    """Four sure units make room for one at 0.55, which a rule of 0.9 would leave out."""
    units = channel("debris", **{f"sure{i}": (9, 1.0, 0.0) for i in range(4)}, doubtful=(9, 0.55, 0.0))
    assert standings(units)["doubtful"] == FASTER
    assert standings(units, rule=StandingRule(probability=0.9))["doubtful"] == WITH_FLEET


def test_where_nothing_was_fitted_every_unit_has_too_few():
    found = no_standings(["a", "b"])
    assert found["standing"].to_list() == [TOO_FEW, TOO_FEW]
    assert found.schema == fleet_standings(channel("debris", a=(9, 0.2, 0.0)), RULE).schema
    assert no_standings([]).schema == found.schema


def test_the_chances_are_the_shares_of_draws_past_the_rule_on_either_side():
    """3 of 10 draws at half the hours, 2 of 10 at twice as many, the others at the fleet's."""
    ratios = np.resize([0.5, 0.5, 0.5, 2.0, 2.0, 1.0, 1.0, 1.0, 1.0, 1.0], (1, 1000))
    given = {"channels": ["debris"], "rated": np.array([7]), "rule": RULE}
    found = ratio_standings(["u03"], ratios, **given)
    assert found["p_faster"].to_list() == pytest.approx([0.3], abs=0.01)
    assert found["p_slower"].to_list() == pytest.approx([0.2], abs=0.01)
    assert found.select("hours_ratio_low", "hours_ratio", "hours_ratio_high").row(0) == pytest.approx((0.5, 1.0, 2.0))
    nobody = ratio_standings([], ratios[:0], channels=[], rated=np.empty(0, dtype=np.int64), rule=RULE)
    assert nobody.schema == found.schema, "tables of no unit fit those of some"


def test_a_ratio_at_the_rule_is_past_it():
    found = ratio_standings(
        ["u03"], np.ones((1, 9)), channels=["debris"], rated=np.array([7]), rule=StandingRule(ratio=0.99)
    )
    assert found.select("p_faster", "p_slower").row(0) == (0.0, 0.0)
    at = ratio_standings(["u03"], np.full((1, 9), 0.8), channels=["debris"], rated=np.array([7]), rule=RULE)
    assert at["p_faster"].to_list() == [1.0]
