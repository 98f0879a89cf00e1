"""Text from files on a terminal: whatever acts or hides there is seen as an escape."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.schemas.shown_text import shown


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("F01\x1b]0;owned\x07", "F01\\u001b]0;owned\\u0007"),
        ("F01\x9b2J", "F01\\u009b2J"),
        ("gut\r\nschlecht", "gut\\u000d\\u000aschlecht"),
        ("F\u202e10F\u202c", "F\\u202e10F\\u202c"),
        ("a\u2066b\u2069", "a\\u2066b\\u2069"),
        ("F\u200b01", "F\\u200b01"),
        ("F01\ufeff", "F01\\ufeff"),
        ("lone \ud83d", "lone \\ud83d"),
        ("tag \U000e0041", "tag \\udb40\\udc41"),
        ("Göran, 12½ h, 油, \u202fمحمد", "Göran, 12½ h, 油, \u202fمحمد"),
    ],
)
def test_hidden_characters_are_shown_and_letters_are_kept(text: str, expected: str) -> None:
    assert shown(text) == expected


@given(st.text())
def test_nothing_that_acts_is_left(text: str) -> None:
    kept = shown(text)
    kinds = {unicodedata.category(letter) for letter in kept}
    assert not kinds & {"Cc", "Cs", "Zl", "Zp"}
    turning = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    assert not {unicodedata.bidirectional(letter) for letter in kept} & turning
    assert shown(kept) == kept


@given(st.dictionaries(st.text(), st.text()))
def test_a_line_of_json_still_says_the_same(values: dict[str, str]) -> None:
    assert json.loads(shown(json.dumps(values, ensure_ascii=False))) == values
