"""Which two units are left and right of one fork."""

import polars as pl
import pytest

from draincurve.pipeline.describing.leg_pairs import leg_pairs, partners

COLUMNS = ("unit_key", "site", "machine", "position", "spring_type")


def register(*rows):
    return pl.DataFrame(rows, schema=dict.fromkeys(COLUMNS, pl.String), orient="row")


@pytest.mark.parametrize(
    ("left", "right"),
    [("left", "right"), ("L", "R"), ("LH", "RH"), ("l.h.", "r.h."), ("Front Left", "right leg"), ("L/H", "R/H")],
)
def test_position_words_make_a_pair(left, right):
    state = register(("F1", "a", "bike 1", left, "Plain"), ("F2", "a", "bike 1", right, "Plain"))
    pairs, unclear = leg_pairs(state)
    assert [(pair.left, pair.right, pair.by_function) for pair in pairs] == [("F1", "F2", "")]
    assert unclear == ()
    assert partners(pairs) == {"F1": "F2", "F2": "F1"}


@pytest.mark.parametrize(
    "state",
    [
        register(("F1", "a", "bike 1", "left", "Plain"), ("F2", "a", "bike 2", "right", "Plain")),
        register(("F1", "a", "bike 1", "left", "Plain"), ("F2", "b", "bike 1", "right", "Plain")),
        register(("F1", "a", "bike 1", "left", "Plain"), ("S1", "a", "bike 1", "rear", "Coil")),
        register(("F1", "a", "bike 1", "front", "Plain"), ("F2", "a", "bike 1", "right", "Plain")),
        register(("F1", "a", "bike 1", "left", "Plain"), ("F2", "a", "bike 1", "rear right", "Plain")),
        register(("F1", "a", None, "left", "Plain"), ("F2", "a", None, "right", "Plain")),
        register(("F1", "a", "bike 1", "left or right", "Plain"), ("F2", "a", "bike 1", "right", "Plain")),
        register(),
    ],
)
def test_what_is_no_pair(state):
    assert leg_pairs(state) == ((), ())


def test_two_left_legs_are_asked_about():
    state = register(
        ("F1", "a", "bike 1", "left", "P"), ("F2", "a", "bike 1", "left", "P"), ("F3", "a", "bike 1", "right", "P")
    )
    pairs, (sentence,) = leg_pairs(state)
    assert pairs == ()
    assert "2 left and 1 right" in sentence
    assert "F1, F2, F3" in sentence


@pytest.mark.parametrize(
    ("left", "right", "why"),
    [
        (("left", "Plain"), ("right", "no spring"), "the left leg runs Plain, the right no spring"),
        (
            ("left spring leg", "Plain"),
            ("right damper", "Plain"),
            "the left leg is for spring, the right for damping",
        ),
        (
            ("left", None),
            ("right rebound", "Plain"),
            "the left leg is for a purpose not written down, the right for rebound",
        ),
        (("left", None), ("right", "Plain"), ""),
    ],
)
def test_legs_that_differ_by_function_say_so(left, right, why):
    (pair,), _ = leg_pairs(register(("F1", "a", "m", *left), ("F2", "a", "m", *right)))
    assert why in pair.by_function
    assert bool(pair.by_function) == bool(why)
