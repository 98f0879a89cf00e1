"""A small invented fleet and its plan, made once."""

import pytest

import draincurve


@pytest.fixture(scope="session")
def fleet():
    return draincurve.simulate(seed=3, units=6, drains=48)


@pytest.fixture(scope="session")
def result(fleet):
    return draincurve.plan(fleet.drains, fleet.as_of, units=fleet.units, usage=fleet.usage, bookings=fleet.bookings)
