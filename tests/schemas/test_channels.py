"""The entries of the rated channels, and what no entry may be."""

from dataclasses import replace

import pytest

from draincurve.schemas.channels import CHANNELS, channel_named, channel_names, level_columns, title_of

COLOUR = channel_named("colour")


def test_names_and_columns_follow_from_the_entries():
    assert channel_names() == tuple(channel.name for channel in CHANNELS)
    assert len(set(channel_names())) == len(CHANNELS)
    assert level_columns()[:2] == ("colour_low", "colour_high")
    assert (COLOUR.rating, COLOUR.option, COLOUR.words) == ("colour_rating", "--colour", "colour_words")
    assert title_of("debris") == "Debris"
    with pytest.raises(KeyError):
        title_of("noise")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": "Colour"}, "one lower-case word"),
        ({"name": "oil colour"}, "one lower-case word"),
        ({"name": ""}, "one lower-case word"),
        ({"scale": ("clean", "dirty")}, "2 meanings for 5 ratings"),
        ({"default_limit": 1}, "limit 1; expected 2 to 5"),
        ({"default_limit": 6}, "limit 6; expected 2 to 5"),
    ],
)
def test_an_entry_that_cannot_be_is_refused(changes, said):
    with pytest.raises(ValueError, match=said):
        replace(COLOUR, **changes)
