import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.fleet_sample import sample_note, sampled_state

UNITS = 800


def fleet(units):
    places = np.arange(units)
    return pl.DataFrame(
        {
            "unit_key": [f"u{place:06d}" for place in places],
            "site": [["here", "there", None][place % 3] for place in places // 3],
            "machine": [None if place % 10 == 0 else f"bike {place // 3}" for place in places],
        }
    )


def test_a_fleet_that_is_not_large_is_all_of_it():
    state = fleet(UNITS)
    few = sampled_state(state, np.random.default_rng(1), units=UNITS)
    assert few is state
    assert sampled_state(state, np.random.default_rng(1), units=None) is state
    assert sample_note(state, few) == ()


def test_a_sample_holds_whole_motorcycles_in_order_and_repeats():
    state = fleet(3_000)
    few = sampled_state(state, np.random.default_rng(1), units=UNITS)
    assert UNITS <= few.height <= UNITS + 2
    assert few["unit_key"].is_sorted()
    whole = state.drop_nulls("machine").group_by("site", "machine").len("all")
    taken = few.drop_nulls("machine").group_by("site", "machine").len("taken")
    both = taken.join(whole, on=["site", "machine"], nulls_equal=True)
    assert both.height == taken.height
    assert (both["all"] == both["taken"]).all()
    assert few.equals(sampled_state(state, np.random.default_rng(1), units=UNITS))
    assert not few.equals(sampled_state(state, np.random.default_rng(2), units=UNITS))
    assert f"of all {state.height:,} units" in sample_note(state, few)[0]


def test_every_unit_has_about_the_same_chance():
    state = fleet(2_000)
    seen = np.zeros(state.height)
    for seed in range(60):
        few = sampled_state(state, np.random.default_rng(seed), units=UNITS)
        seen += state["unit_key"].is_in(few["unit_key"].implode()).to_numpy()
    alone = state["machine"].is_null().to_numpy()
    expected = 60 * UNITS / state.height
    assert seen[alone].mean() == pytest.approx(expected, rel=0.08)
    assert seen[~alone].mean() == pytest.approx(expected, rel=0.08)
