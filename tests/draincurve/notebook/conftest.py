"""A small invented fleet and its plan, made once."""

import matplotlib as mpl
import pytest
from matplotlib import pyplot

import draincurve


@pytest.fixture(scope="session")
def fleet():
    return draincurve.simulate(seed=3, units=6, drains=48)


@pytest.fixture(scope="session")
def result(fleet):
    return draincurve.plan(fleet.drains, fleet.as_of, units=fleet.units, usage=fleet.usage, bookings=fleet.bookings)


@pytest.fixture
def drawn_in_memory():
    with mpl.rc_context({"backend": "agg"}):
        yield
    pyplot.close("all")
