"""The likelihood of what stays behind, against the dense covariance matrix written out."""

from dataclasses import asdict

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.judging.volume.carry_over_model import Series, balance_lines, carry_over_ratio
from draincurve.pipeline.judging.volume.carry_over_model import _restricted_log_likelihood as restricted


def series(rng, counts, rebuilds=0.0, gaps=0.0, ratio=0.0):
    n = sum(counts)
    starts = np.concatenate(([0], np.cumsum(counts)))
    first = np.isin(np.arange(n), starts[:-1])
    rebuilt = rng.random(n) < rebuilds
    old_oil = ~np.where(first, False, np.roll(rebuilt, 1))
    follows = ~first & (rng.random(n) >= gaps)
    hours = rng.uniform(5, 25, n)
    share = 0.05 + 0.01 * rng.standard_normal(n)
    stayed = 0.01 * np.sqrt(ratio) * rng.standard_normal(n + len(counts))
    shift = np.repeat(np.arange(len(counts)), counts)
    at = np.arange(n) + shift
    return Series(share + stayed[at + 1] - stayed[at], hours, starts, old_oil, ~rebuilt, follows)


def dense(found, ratio, unit):
    """Covariance of one unit over the noise's, and its rows."""
    at = np.arange(found.starts[unit], found.starts[unit + 1])
    matrix = np.diag(1.0 + ratio * (found.old_oil[at].astype(float) + found.stays[at]))
    for place in range(1, at.size):
        if found.follows[at[place]] and found.old_oil[at[place]]:
            matrix[place, place - 1] = matrix[place - 1, place] = -ratio
    return matrix, at


@given(st.integers(0, 10_000), st.sampled_from([0.0, 0.5, 4.0, 16.0]))
def test_lines_and_likelihood_are_those_of_the_dense_matrix(seed, ratio):
    found = series(np.random.default_rng(seed), (4, 7, 5), 0.2, 0.2)
    lines = balance_lines(found, ratio)
    log_determinants, squares, freedom = 0.0, 0.0, 0
    for unit in range(3):
        matrix, at = dense(found, ratio, unit)
        design = np.column_stack((np.ones(at.size), found.hours[at]))
        inverse = np.linalg.inv(matrix)
        normal = design.T @ inverse @ design
        line = np.linalg.solve(normal, design.T @ inverse @ found.share[at])
        rest = found.share[at] - design @ line
        assert lines.per_hour[unit] == pytest.approx(line[1], abs=1e-10)
        assert lines.unscaled[unit] == pytest.approx(np.linalg.inv(normal)[1, 1])
        assert lines.noise[unit] == pytest.approx(rest @ inverse @ rest / (at.size - 2))
        log_determinants += np.linalg.slogdet(matrix)[1] + np.linalg.slogdet(normal)[1]
        squares += rest @ inverse @ rest
        freedom += at.size - 2
    expected = -0.5 * (log_determinants + freedom * np.log(squares / freedom))
    assert restricted(found, ratio) == pytest.approx(expected)


@pytest.mark.parametrize("piece", [1, 6, 11, 16])
@pytest.mark.parametrize("ratio", [0.0, 2.0])
def test_lines_are_the_same_worked_out_for_some_units_at_a_time(piece, ratio):
    found = series(np.random.default_rng(3), (4, 7, 5, 1), 0.2, 0.2)
    whole = balance_lines(found, ratio)
    assert len(list(found.pieces(piece))) == {1: 4, 6: 3, 11: 2, 16: 2}[piece]
    assert sum(part.share.size for part in found.pieces(piece)) == found.share.size
    parts = balance_lines(found, ratio, piece_rows=piece)
    for one, other in zip(asdict(whole).values(), asdict(parts).values(), strict=True):
        assert np.array_equal(one, other)


def test_what_comes_back_is_seen_and_is_not_invented():
    seen = [carry_over_ratio(series(np.random.default_rng(seed), (10,) * 8, ratio=4.0)) for seed in range(20)]
    none = [carry_over_ratio(series(np.random.default_rng(seed), (10,) * 8)) for seed in range(40)]
    assert min(seen) > 0
    assert sum(ratio > 0 for ratio in none) <= 6, "5 % by intent"


def test_too_few_drains_are_not_asked():
    assert carry_over_ratio(series(np.random.default_rng(1), (4, 5, 6))) is None


def test_thinned_units_keep_their_own_rows():
    found = series(np.random.default_rng(3), [4, 7, 5, 6, 9])
    few = found.thinned(3)
    assert few.starts.tolist() == [0, 4, 9, 18]
    for at, unit in enumerate((0, 2, 4)):
        own = slice(found.starts[unit], found.starts[unit + 1])
        here = slice(few.starts[at], few.starts[at + 1])
        assert few.share[here].tolist() == found.share[own].tolist()
        assert few.follows[here].tolist() == found.follows[own].tolist()
    assert found.thinned(50).share.tolist() == found.share.tolist()
