"""Names and anchors of units."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from draincurve.reports.content.unit_names import anchor, section_anchor


@given(st.text(min_size=1, max_size=64), st.text(min_size=1, max_size=64))
def test_anchors_are_plain_stable_and_differ(one: str, other: str) -> None:
    assert anchor(one).replace("-", "").isalnum()
    assert anchor(one).isascii()
    assert anchor(one) == anchor(one)
    assert (anchor(one) == anchor(other)) == (one == other)


def test_a_unit_out_of_service_has_no_section_to_link_to() -> None:
    assert section_anchor("F01", {"F01"}) == anchor("F01")
    assert section_anchor("F02", {"F01"}) == ""
