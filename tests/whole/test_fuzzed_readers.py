"""Five hundred mutated logs of every format are read or refused; tests/fuzz_readers.py reads thousands."""

from fuzz_readers import outcomes


def test_mutated_logs():
    found = list(outcomes(500, seed=1, workers=2, checked_every=20))
    assert [one for one in found if one.is_fault] == []
    assert sorted(one.number for one in found) == list(range(500))
    for ending in ("csv", "txt", "xlsx"):
        assert {one.outcome for one in found if one.name.endswith(ending)} == {"read", "refused"}, ending
