"""The examples in the help of the public API run and give what they say; every public function has one."""

import doctest
import subprocess
import sys

import matplotlib as mpl
import pytest
from matplotlib import pyplot

import draincurve

CHECKER = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)


@pytest.fixture(autouse=True)
def pictures_in_memory():
    with mpl.rc_context({"backend": "agg"}):
        yield
    pyplot.close("all")


def examples_of(name):
    found = doctest.DocTestFinder().find(getattr(draincurve, name), name, globs={})
    return [item for item in found if item.examples]


@pytest.mark.parametrize("name", [name for name in draincurve.__all__ if name != "DraincurveError"])
def test_examples(name):
    examples = examples_of(name)
    assert examples, f"{name} has no example"
    for item in examples:
        printed = []
        assert CHECKER.run(item, out=printed.append).failed == 0, "".join(printed)


def test_the_import_loads_no_heavy_library():
    heavy = "{'numpy', 'polars', 'pandas', 'matplotlib', 'numba', 'scipy'}"
    code = f"import draincurve, sys; print(sorted({heavy} & set(sys.modules)), 'plan' in dir(draincurve))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[] True"
