"""A backtest whose boosted trees grow twice only, since they take most of its time: for tests of all else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

SMALL = ({"learning_rate": 0.1, "max_iter": 2, "max_leaf_nodes": 4},)


@contextmanager
def small_trees() -> Iterator[None]:
    """One way of growing them to choose from, and two rounds of it."""
    from draincurve.pipeline.judging.backtest import boosted_trees

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(boosted_trees, "CANDIDATES", SMALL)
        yield
