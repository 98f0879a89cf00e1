"""Cells that hold a word."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind, read_text, read_yes_no


@pytest.mark.parametrize("text", ["yes", "Y", "x", "1", "TRUE", "ja", " Yes "])
def test_yes(text: str) -> None:
    assert read_yes_no(pl.Series([text])).row(0) == (True, None)


@pytest.mark.parametrize("text", ["no", "N", "0", "false", "-", "nein"])
def test_no(text: str) -> None:
    assert read_yes_no(pl.Series([text])).row(0) == (False, None)


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        ("leak", "dry", False),
        ("leak", "OK", False),
        ("leak", "trocken", False),
        ("leak", "left seal", True),
        ("leak", "a bit wet", True),
        ("leak", "weeping", True),
        ("milky", "clear", False),
        ("burnt", "no smell", False),
        ("confirmed", "ok", True),
        ("confirmed", "geprüft", True),
        ("confirmed", "wrong", False),
    ],
)
def test_words_of_one_column(column: str, text: str, value: bool) -> None:
    assert read_yes_no(pl.Series([text]), column).row(0) == (value, None)
    assert read_yes_no(pl.Series([text]), "in_service").row(0)[0] is None


@pytest.mark.parametrize("text", ["see note", "12", "left or right", "ok but wet"])
def test_what_may_be_a_leak_is_none_in_silence(text: str) -> None:
    value, reason = read_yes_no(pl.Series([text]), "leak").row(0)
    assert value is None
    assert reason.startswith("is neither yes nor no")


def test_blank_is_unknown_and_anything_else_has_a_reason() -> None:
    read = read_yes_no(pl.Series([None, "", "?", "maybe", "2"]))
    assert read["value"].to_list() == [None] * 5
    assert read["reason"].is_null().to_list() == [True, True, True, False, False]


@pytest.mark.parametrize("column", ["leak", "milky", "burnt"])
def test_a_question_mark_under_a_sign_counts_as_yes_until_it_is_answered(column: str) -> None:
    read = read_yes_no(pl.Series(["no", "?", " ?? ", None, "n/a"]), column)
    assert read["value"].to_list() == [False, True, True, None, None]
    assert read["asked"].is_null().to_list() == [True, False, False, True, True]
    assert read["reason"].null_count() == 5


@pytest.mark.parametrize(
    "text", ["yes?", "ja ?", "no?", "slight?", "dry (?)", "maybe", "Vielleicht", "forse?", "à vérifier"]
)
def test_a_doubted_word_under_a_sign_does_too(text: str) -> None:
    read = read_yes_no(pl.Series(["no", text]), "leak")
    assert read["value"].to_list() == [False, True]
    assert read["asked"].is_null().to_list() == [True, False]
    assert read["reason"].null_count() == 2
    assert read_yes_no(pl.Series(["no", text]), "confirmed").row(1)[1].startswith("is neither yes nor no")


def test_question_marks_alone_say_nothing() -> None:
    assert read_yes_no(pl.Series(["?", "??"]), "leak")["value"].to_list() == [None, None]


def test_kinds_of_service() -> None:
    read = read_service_kind(pl.Series(["Top up", "top-up", "TOPUP", "Rebuild", "oil change", None, "boil"]))
    assert read["value"].to_list() == ["top-up", "top-up", "top-up", "rebuild", "oil", "oil", None]
    assert read["reason"].is_null().to_list() == [True] * 6 + [False]


def test_text_is_trimmed_and_dashes_are_nothing() -> None:
    texts = pl.Series(["  a \t b ", "-", "n/a", "", None, "\u00a0x", "TBD", "\u200ey\u200f", "a\u200db"])
    assert read_text(texts).to_list() == ["a b", None, None, None, None, "x", None, "y", "a\u200db"]
