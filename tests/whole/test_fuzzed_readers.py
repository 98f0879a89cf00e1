"""Mutated logs of every format are read or refused; tests/fuzz_readers.py reads thousands."""

from deep_runs import examples
from fuzz_readers import outcomes


def test_mutated_logs():
    count = examples(300)
    found = list(outcomes(count, seed=1, workers=2, checked_every=20))
    assert [one for one in found if one.is_fault] == []
    assert sorted(one.number for one in found) == list(range(count))
    for ending in ("csv", "txt", "xlsx"):
        assert {one.outcome for one in found if one.name.endswith(ending)} == {"read", "refused"}, ending
