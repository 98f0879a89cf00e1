import numpy as np
import pytest

from draincurve.pipeline.describing.covariates import ColumnSpan


def spanned(*columns, rows=200):
    parts = [np.asarray(part, dtype=float).reshape(rows, -1) for part in columns]
    together = np.hstack(parts)
    span = ColumnSpan(together.T @ together)
    ends = np.cumsum([part.shape[1] for part in parts])
    return [span.extend(range(end - part.shape[1], end)) for part, end in zip(parts, ends, strict=True)]


def test_new_columns_are_told_from_what_is_there():
    rng = np.random.default_rng(1)
    a, b, c = rng.normal(size=(3, 200))
    assert spanned(a, b, 2 * a - b, np.column_stack((a, c)), c) == [True, True, False, True, False]


def test_a_column_of_noughts_adds_nothing():
    assert spanned(np.zeros(200)) == [False]


@pytest.mark.parametrize(("away", "adds"), [(3e-3, True), (3e-4, False)])
def test_a_thousandth_of_its_length_is_the_limit(away, adds):
    rng = np.random.default_rng(2)
    base, other = np.linalg.qr(rng.normal(size=(200, 2)))[0].T
    assert spanned(base, base + away * other) == [True, adds]


def test_agrees_with_the_rank_of_random_designs():
    rng = np.random.default_rng(3)
    for _ in range(30):
        pieces = [rng.integers(-1, 2, size=(200, 2)) @ rng.integers(-1, 2, size=(2, 3)) for _ in range(4)]
        before, together = np.empty((200, 0)), []
        for piece in pieces:
            after = np.hstack((before, piece))
            together.append(np.linalg.matrix_rank(after) > (np.linalg.matrix_rank(before) if before.size else 0))
            before = after
        assert spanned(*pieces) == together
