"""Ratings: levels, ranges, the shop's words, and what is no rating."""

import tomllib

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.rating_cells import read_rating, read_ratings
from draincurve.pipeline.reading.cleaning.rating_words import RATING_WORDS
from draincurve.schemas.channels import CHANNELS, Channel, channel_named


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("3", 3, 3),
        (" 3 ", 3, 3),
        ("3.0", 3, 3),
        ("2-3", 2, 3),
        ("2–3", 2, 3),
        ("2 - 3", 2, 3),
        ("2/3", 2, 3),
        ("2 to 3", 2, 3),
        ("3-2", 2, 3),
        ("1-5", 1, 5),
        ("4/5", 4, 5),
        ("~3", 3, 3),
        ("3+", 3, 4),
        ("3.5", 3, 4),
        ("2,5", 2, 3),
        ("2½", 2, 3),
        ("1 1/2", 1, 2),
        ("5+", 5, 5),
        ("2 or 3", 2, 3),
        ("2 oder 3", 2, 3),
        ("2 à 3", 2, 3),
        ("<3", 1, 3),
        ("≥ 3", 3, 5),
        ("max. 2", 1, 2),
        ("2 out of 5", 2, 2),
        ("3 von 5", 3, 3),
        ("3/5", 3, 5),
        ("4 dark", 4, 4),
        ("dark (4)", 4, 4),
        ("3: clouded", 3, 3),
    ],
)
def test_levels_and_ranges(text: str, low: int, high: int) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high, read.reason) == (low, high, None)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("0", "not clean"),
        ("6", "not on the scale"),
        ("0.5", "not on the scale"),
        ("5.5", "not on the scale"),
        ("2 dark", "the word is 4 on the scale, the number is 2"),
        (">5", "is no rating"),
        ("7/10", "is no rating"),
        ("x" * 61, "is no rating"),
        ("0-1", "not on the scale"),
        ("3-7", "not on the scale"),
        ("grey", "map the word in the settings"),
        ("2026-03-02 00:00:00", "looks like a date"),
        ("02-Mar", "looks like a date"),
        ("-1", "is no rating"),
    ],
)
def test_what_is_no_rating(text: str, reason: str) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high) == (None, None)
    assert reason in str(read.reason)


@pytest.mark.parametrize(("text", "levels"), [("1-", (1, 2)), ("3-", (2, 4)), ("4-", (3, 5)), ("5-", (4, 5))])
def test_a_level_with_a_minus_may_be_two_things_and_is_held_back(text: str, levels: tuple[int, int]) -> None:
    """What it may be is kept, since 4- may be 4-5: a sign."""
    read = read_rating(text, {}, channel=channel_named("debris"))
    assert (read.low, read.high) == levels
    assert "a range whose end is missing" in str(read.reason)
    assert tomllib.loads(str(read.setting)) == {"words": {"debris_rating": {text: ""}}}


@pytest.mark.parametrize("text", ["", " ", "-", "?", "n/a"])
def test_a_blank_is_not_rated_and_not_clean(text: str) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high, read.reason) == (None, None, None)


DEBRIS = channel_named("debris")


def levels(*texts: str, channel: Channel = DEBRIS, words: dict[str, str] | None = None) -> list[tuple]:
    return read_ratings(pl.Series(texts), words or {}, channel=channel).select("low", "high").rows()


@pytest.mark.parametrize("channel", CHANNELS)
def test_every_word_of_the_card_is_its_level(channel: Channel) -> None:
    for level, meaning in enumerate(channel.scale, start=1):
        assert levels(meaning, meaning.upper(), f"{level} {meaning}", channel=channel) == [(level, level)] * 3
    for word, rating in RATING_WORDS[channel.name].items():
        assert levels(word, channel=channel) == [(int(rating[0]), int(rating[-1]))], word


@pytest.mark.parametrize(
    ("channel", "words", "expected"),
    [
        ("debris", ["none", "fine", "glitter", "flakes"], [(1, 1), (1, 3), (3, 3), (5, 5)]),
        ("debris", ["keine", "Schimmer", "Flitter", "Späne"], [(1, 1), (2, 2), (3, 3), (5, 5)]),
        ("debris", ["aucun", "limaille", "copeaux!"], [(1, 1), (3, 4), (5, 5)]),
        ("debris", ["ninguna", "virutas"], [(1, 1), (5, 5)]),
        ("debris", ["nessuno", "trucioli"], [(1, 1), (5, 5)]),
        ("colour", ["amber", "dark", "black"], [(2, 3), (4, 4), (4, 5)]),
        ("colour", ["Hell", "trüb", "dunkel", "schwarz"], [(2, 2), (3, 3), (4, 4), (4, 5)]),
        ("colour", ["ambrée", "foncé", "noire"], [(2, 3), (4, 4), (4, 5)]),
        ("colour", ["claro", "oscuro", "negro"], [(1, 2), (4, 4), (4, 5)]),
        ("colour", ["chiaro", "scuro", "nero"], [(1, 2), (4, 4), (4, 5)]),
    ],
)
def test_words_of_the_bench(channel: str, words: list[str], expected: list[tuple]) -> None:
    assert levels(*words, channel=channel_named(channel)) == expected


def test_none_among_numbers_may_be_an_empty_cell_and_is_asked_about() -> None:
    read = read_ratings(pl.Series(["none", "2", "None"]), {}, channel=DEBRIS)
    assert read["low"].to_list() == [None, 2, None]
    assert read["asked"].is_not_null().to_list() == [True, False, True]
    assert read["setting"][0] == '[words.debris_rating]\n"none" = "1"'
    assert levels("none", "2", words={"none": "1"}) == [(1, 1), (2, 2)]
    assert read_ratings(pl.Series(["none"]), {})["asked"].to_list() == [None]


@pytest.mark.parametrize(
    ("texts", "expected", "asked"),
    [
        (["4/5", "2/5", "1/5"], [(4, 4), (2, 2), (1, 1)], 0),
        (["4/5", "5/5"], [(4, 4), (5, 5)], 0),
        (["4/5", "2/3", "3/4"], [(4, 5), (2, 3), (3, 4)], 0),
        (["4/5", "3", "2"], [(4, 5), (3, 3), (2, 2)], 1),
        (["3/5", "4/5"], [(3, 5), (4, 5)], 2),
        (["4/5", "2/5", "2/3"], [(4, 5), (2, 5), (2, 3)], 2),
        (["3 of 5", "4/5", "2/3"], [(3, 3), (4, 5), (2, 3)], 1),
        (["3 of 5", "4/5"], [(3, 3), (4, 5)], 1),
        (["3 of 5", "4/5", "2/5"], [(3, 3), (4, 4), (2, 2)], 0),
    ],
)
def test_of_five_or_a_range_is_settled_for_a_column_or_asked(texts: list[str], expected: list, asked: int) -> None:
    read = read_ratings(pl.Series(texts), {})
    assert read.select("low", "high").rows() == expected
    assert read["asked"].drop_nulls().len() == asked
    assert read.filter(pl.col("asked").is_not_null())["proposal"].null_count() == 0


def test_a_date_proposes_the_range_that_it_was() -> None:
    assert read_rating("2026-03-02 00:00:00", {}).proposal == "2-3"
    assert read_rating("2026-12-02 00:00:00", {}).proposal is None


def test_words_count_only_where_the_settings_map_them() -> None:
    read = read_rating("Grey", {"grey": "3-4"})
    assert (read.low, read.high) == (3, 4)
    assert "as the settings say" in str(read.note)
    assert "mapped to 'dirty'" in str(read_rating("grey", {"grey": "dirty"}).reason)
    assert "read as not rated" in str(read_rating("grey", {"grey": ""}).note)


@given(st.lists(st.one_of(st.none(), st.text(max_size=6), st.integers(-2, 8).map(str)), max_size=10))
def test_any_text_is_on_the_scale_or_has_a_reason_or_is_blank(texts: list[str | None]) -> None:
    read = read_ratings(pl.Series(texts, dtype=pl.String), {})
    assert read.height == len(texts)
    rated = read.drop_nulls("low")
    assert (rated["low"] <= rated["high"]).all()
    assert rated["low"].is_between(1, 5).all()
    assert rated["high"].is_between(1, 5).all()
    assert rated["reason"].is_null().all()


@pytest.mark.parametrize(
    ("text", "proposal"),
    [("'3", "3"), ("4!", "4"), ("`2-3", "2-3"), ("'4'", "4"), ("3*", "3"), ("60%", None), ("12,5/13", None)],
)
def test_a_rating_with_a_mark_beside_it_is_proposed_alone(text: str, proposal: str | None) -> None:
    rating = read_rating(text, {})
    assert rating.reason is not None
    assert rating.proposal == proposal


@pytest.mark.parametrize(
    ("text", "high"), [("5!", 5), ("flakes all over", 5), ("many flakes??", 5), ("gritty", None)]
)
def test_what_may_be_a_sign_is_kept_beside_the_reason(text: str, high: int | None) -> None:
    rating = read_rating(text, {}, channel=channel_named("debris"))
    assert rating.reason is not None
    assert rating.high == high


@pytest.mark.parametrize("texts", [["2/3"], ["3/4", "4/5"], ["1/2", "4/3"]])
def test_a_range_with_a_slash_is_noted(texts: list[str]) -> None:
    read = read_ratings(pl.Series(texts), {})
    assert read["note"].str.contains("is read as the range").all()


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [("3ish", 3, 3), ("4 max", 1, 4), ("4 max.", 1, 4), ("3 min", 3, 5), ("3 (4?)", 3, 4), ("2 (1)", 1, 2)],
)
def test_rough_ratings_are_read_with_a_note(text: str, low: int, high: int) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high, read.reason) == (low, high, None)
    assert read.note is not None


@pytest.mark.parametrize("text", ["not rated", "Not checked", "nicht geprüft", "n.b.", "tbd"])
def test_words_for_not_rated_are_blanks(text: str) -> None:
    assert read_rating(text, {}) == read_rating("", {})


def test_roman_numerals_are_levels_where_one_is_plainly_one() -> None:
    assert read_ratings(pl.Series(["I", "IV", "v", "ii"]), {})["low"].to_list() == [1, 4, 5, 2]
    assert read_ratings(pl.Series(["I", "V", "3"]), {})["low"].to_list() == [None, None, 3]


@pytest.mark.parametrize(
    ("text", "high"),
    [("no flakes", None), ("sans éclats", None), ("keine groben Späne", None), ("hardly any flakes", 5)],
)
def test_a_sign_that_is_denied_is_none(text: str, high: int | None) -> None:
    debris = next(channel for channel in CHANNELS if channel.name == "debris")
    read = read_rating(text, {}, channel=debris)
    assert read.reason is not None
    assert read.high == high


@pytest.mark.parametrize("text", ["Fork 5", "3 laps", "Tevik 2"])
def test_words_with_a_number_are_no_dates(text: str) -> None:
    assert read_rating(text, {}).reason.startswith("is no rating")


@pytest.mark.parametrize(
    ("channel", "text", "meant", "high"),
    [("colour", "drak", "dark", None), ("colour", "clowdy", "cloudy", None), ("debris", "flaks", "flakes", 5)],
)
def test_a_misspelt_word_is_proposed_and_its_sign_counts(channel, text, meant, high) -> None:
    read = read_rating(text, {}, channel=next(one for one in CHANNELS if one.name == channel))
    assert (read.low, read.high, read.proposal) == (None, high, meant)
    assert read.reason.startswith("is no rating")


@pytest.mark.parametrize("text", ["grey", "dust on it", "abc", "?!"])
def test_other_words_propose_nothing(text: str) -> None:
    assert read_rating(text, {}).proposal is None


@pytest.mark.parametrize("word", ["four", "Vier", "quatre", "cuatro", "quattro"])
def test_a_number_in_words_is_a_level(word: str) -> None:
    read = read_rating(word, {})
    assert (read.low, read.high, read.note) == (4, 4, f"'{word}' is read as 4")
