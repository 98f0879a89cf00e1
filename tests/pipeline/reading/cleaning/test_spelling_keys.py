"""What makes two spellings one name, and which marks do not."""

import pytest

from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key


@pytest.mark.parametrize(
    ("one", "other"), [("F-01", "f 01"), ("No. 5", "No 5"), ("- F01", "F01"), ("F01.", "F01"), ("(F01)", "F01")]
)
def test_marks_that_say_nothing(one: str, other: str) -> None:
    assert spelling_key(one) == spelling_key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        *((".46", "46"), (",46", "46"), ("-2", "2"), ("preload -2", "preload 2"), ("\u22122", "2")),
        *(("L+", "L++"), ("A+", "A"), ("A + +", "A+"), ("2.5W", "25W"), ("7-1", "71"), ("F -2", "F-2")),
    ],
)
def test_marks_that_make_another_name(one: str, other: str) -> None:
    assert spelling_key(one) != spelling_key(other)
