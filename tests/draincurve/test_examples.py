"""The examples in the help of the public API run and give what they say; every public function has one."""

import doctest
import pydoc
import subprocess
import sys
from importlib.metadata import version

import pytest

import draincurve

CHECKER = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)


pytestmark = pytest.mark.usefixtures("drawn_in_memory", "trees_are_small")


def examples_of(name):
    found = doctest.DocTestFinder().find(getattr(draincurve, name), name, globs={})
    return [item for item in found if item.examples]


@pytest.mark.parametrize("name", [name for name in dir(draincurve) if name != "DraincurveError"])
def test_examples(name):
    examples = examples_of(name)
    assert examples, f"{name} has no example"
    for item in examples:
        printed = []
        assert CHECKER.run(item, out=printed.append).failed == 0, "".join(printed)


def test_the_version_is_that_of_the_package():
    assert draincurve.__version__ == version("draincurve")


def test_help_shows_the_functions_and_names_the_results():
    text = pydoc.plain(pydoc.render_doc(draincurve))
    results = {"SpringComparisons", "SimulatedLog", "Plan", "RatingFit", "ReadLog", "Backtest"}
    assert set(draincurve.__all__) | results | {"DraincurveError"} == set(dir(draincurve))
    assert all(f"    {name}(" in text for name in draincurve.__all__)
    assert all(name in text for name in results)
    assert "CLASSES" not in text


def test_the_import_loads_no_heavy_library():
    heavy = "{'numpy', 'polars', 'pandas', 'matplotlib', 'numba', 'scipy'}"
    code = f"import draincurve, sys; print(sorted({heavy} & set(sys.modules)), 'plan' in dir(draincurve))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[] True"
