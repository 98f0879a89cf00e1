"""The examples in the help of the public API run and give what they say; every public function has one."""

import doctest

import pytest

import draincurve

CHECKER = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)


def examples_of(name):
    found = doctest.DocTestFinder().find(getattr(draincurve, name), name, globs={})
    return [item for item in found if item.examples]


@pytest.mark.parametrize("name", draincurve.__all__)
def test_examples(name):
    examples = examples_of(name)
    assert examples, f"{name} has no example"
    for item in examples:
        said = []
        assert CHECKER.run(item, out=said.append).failed == 0, "".join(said)
