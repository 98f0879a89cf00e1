"""Exact binomial bounds against published cases and against their own closed form.

Cases of Newcombe (1998), Statist. Med. 17, 857-872 (81/263, 15/148, 0/20, 1/29): cases from memory, limits computed
by two programs that agree to 1e-12. With nothing seen in n looks the bound is 1 - (1 - confidence)^(1/n), derived by
hand; 9.5 % for 30 drains and 26 % for 10 units are the figures that the trade notes give.
"""

import pytest

from draincurve.pipeline.judging.clean_bounds import exact_upper_bound


@pytest.mark.parametrize(
    ("past", "looks", "upper"),
    [
        (81, 263, 0.3676219226014),
        (15, 148, 0.1616504903495),
        (0, 20, 0.1684334709831),
        (1, 29, 0.1776442954887),
    ],
)
def test_upper_limits_of_two_sided_95_percent_intervals(past, looks, upper):
    assert exact_upper_bound(past, looks, confidence=0.975) == pytest.approx(upper, abs=1e-8)


@pytest.mark.parametrize(("looks", "printed"), [(30, 0.095), (10, 0.26)])
def test_nothing_seen_is_not_nothing_there(looks, printed):
    found = exact_upper_bound(0, looks)
    assert found == pytest.approx(1 - 0.05 ** (1 / looks), abs=1e-10)
    assert found == pytest.approx(printed, abs=0.0012)
