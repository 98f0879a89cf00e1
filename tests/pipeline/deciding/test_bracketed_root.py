from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.deciding.bracketed_root import increasing_roots


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=20))
def test_cubes_of_shifted_lines_are_solved_whatever_the_start(shifts):
    shift = np.array(shifts)

    def cube(rows, at):
        return (at - shift[rows]) ** 3 + (at - shift[rows]), 3 * (at - shift[rows]) ** 2 + 1

    low, high = np.full(shift.size, -10.0), np.full(shift.size, 10.0)
    np.testing.assert_allclose(increasing_roots(cube, low, high, high), shift, atol=1e-9)


def test_a_flat_function_falls_back_to_halving():
    def step(rows, at):
        return np.where(at < 2.5, -1.0, 1.0), np.zeros(at.size)

    root = increasing_roots(step, np.array([0.0]), np.array([10.0]), np.array([9.0]))
    np.testing.assert_allclose(root, [2.5], atol=1e-10)


def test_a_root_outside_the_bracket_gives_the_nearer_end_and_inputs_stay_as_they_were():
    low, high = np.array([0.0, 0.0]), np.array([1.0, 1.0])
    root = increasing_roots(
        lambda rows, at: (at - np.array([-3.0, 7.0])[rows], np.ones(at.size)), low, high, np.array([0.5, 0.5])
    )
    np.testing.assert_allclose(root, [0.0, 1.0], atol=1e-9)
    assert low.tolist() == [0.0, 0.0]
    assert high.tolist() == [1.0, 1.0]
