"""Viscosity index, viscosity at any temperature and ISO grade, beyond the standards' own examples."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from draincurve.pipeline.describing.viscosity import (
    basis,
    iso_grade,
    viscosity_index,
    viscosity_of,
    walther_line,
    z_of,
)

KV100 = st.floats(2.0, 300.0)


@given(KV100)
def test_both_procedures_meet_at_a_hundred(kv100):
    lowest, highest = basis(kv100)
    assert viscosity_index(lowest, kv100) == pytest.approx(0.0, abs=1e-9)
    assert viscosity_index(highest, kv100) == pytest.approx(100.0)
    assert viscosity_index(highest * (1 - 1e-9), kv100) == pytest.approx(100.0, abs=1e-4)


@given(KV100, st.floats(1.01, 30.0), st.floats(1.001, 2.0))
def test_less_change_with_heat_is_a_higher_index(kv100, ratio, more):
    assert viscosity_index(kv100 * ratio, kv100) > viscosity_index(kv100 * ratio * more, kv100)


@pytest.mark.parametrize(("kv40", "kv100"), [(5.0, 1.9), (5.0, 5.0), (5.0, 6.0)])
def test_no_index_where_the_standard_gives_none(kv40, kv100):
    assert viscosity_index(kv40, kv100) is None


@given(st.floats(1.0, 2000.0), st.floats(1.05, 40.0))
def test_the_line_goes_through_both_viscosities_and_falls(kv100, ratio):
    line = walther_line(kv100 * ratio, kv100)
    assert line.viscosity_at(40.0) == pytest.approx(kv100 * ratio, rel=2e-4)
    assert line.viscosity_at(100.0) == pytest.approx(kv100, rel=2e-4)
    cold, warm = line.viscosity_at(20.0), line.viscosity_at(60.0)
    assume(cold is not None)
    assert cold > warm > kv100


@given(st.floats(0.5, 1e6))
def test_round_trip_is_as_good_as_the_standards_fit(viscosity):
    assert viscosity_of(z_of(viscosity)) == pytest.approx(viscosity, rel=5e-3)


@pytest.mark.parametrize(("kv40", "kv100"), [(30.0, 30.0), (3.0, 5.0), (5.0, 0.1)])
def test_no_line_through_an_impossible_pair(kv40, kv100):
    assert walther_line(kv40, kv100) is None


def test_no_value_far_outside_the_two_temperatures():
    line = walther_line(32.0, 5.4)
    assert line.viscosity_at(-41.0) is None
    assert line.viscosity_at(151.0) is None
    assert walther_line(9000.0, 40.0).viscosity_at(-40.0) is None


@pytest.mark.parametrize(
    ("kv40", "said"),
    [
        (1.9, "under VG 2"),
        (18.0, "between VG 15 and VG 22"),
        (3600.0, "over VG 3200"),
        (26.1, "between VG 22 and VG 32"),
    ],
)
def test_oils_between_grades_say_so(kv40, said):
    assert iso_grade(kv40) == said
