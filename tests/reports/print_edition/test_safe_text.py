"""Text of a log before it is printed: nothing hidden, nothing too long, nothing that turns its neighbours."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.reports.print_edition.safe_text import LONGEST_RUN, clipped, plain_values, safe_text, unbroken


def test_control_characters_and_lone_surrogates_are_seen() -> None:
    assert safe_text("a\x00b\x1b\x85c\ud800") == "a\ufffdb\ufffd c\ufffd"


def test_line_ends_become_one_space() -> None:
    assert safe_text("one\r\n\ttwo\u2028three") == "one two three"


def test_marks_that_turn_the_direction_do_nothing() -> None:
    assert safe_text("F\u202e01\u2066x\u2069") == "F\ufffd01\ufffdx\ufffd"


def test_right_to_left_text_is_isolated_and_other_text_is_not() -> None:
    # Unicode Standard Annex 9, section 2.4: FSI (U+2068) opens an isolate, PDI (U+2069) closes it.
    assert safe_text("ش-٠٧ أمامي") == "\u2068ش-٠٧ أمامي\u2069"
    assert safe_text("12 ש") == "\u206812 ש\u2069", "the first strong letter decides, not the first letter"
    assert safe_text("unit ש") == "unit ש"
    assert safe_text("Größe 漢字") == "Größe 漢字"


def test_long_runs_may_break_and_read_the_same() -> None:
    id_of_64 = "F" * 64
    assert max(len(piece) for piece in safe_text(id_of_64).split("\u200b")) <= 8
    assert unbroken(safe_text(id_of_64)) == id_of_64
    assert safe_text("F" * LONGEST_RUN) == "F" * LONGEST_RUN


def test_a_percent_sign_stays_with_its_number() -> None:
    assert safe_text("reaches 10 % at") == "reaches 10\u00a0% at"


def test_clipping_says_how_much_is_left_out() -> None:
    assert clipped("abcdef", 4) == "abcd … (2 letters more)"
    assert clipped("abcd", 4) == "abcd"


@given(st.text(alphabet=st.characters(), max_size=200) | st.text(alphabet="\ud800\udfff\x00\u202eאF ", max_size=60))
def test_any_text_becomes_one_line_of_json(text: str) -> None:
    safe = safe_text(text)
    assert "\n" not in safe
    assert json.loads(json.dumps(safe)).encode() == safe.encode()
    assert safe_text(unbroken(safe)) == safe


@dataclass(frozen=True)
class Line:
    name: str
    day: object


def test_a_value_without_a_form_in_print_is_refused() -> None:
    assert plain_values(Line("a", (1, None)), {}) == {"name": "a", "day": [1, None]}
    with pytest.raises(TypeError, match="date has no form in print"):
        plain_values(Line("a", date(2026, 6, 20)), {})
