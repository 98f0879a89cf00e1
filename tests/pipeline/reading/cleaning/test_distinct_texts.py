"""Distinct texts of a column, and what was read of them spread over its rows."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.distinct_texts import distinct_texts

CELLS = st.lists(st.one_of(st.none(), st.sampled_from(["", " ", "a", "b", "ä", "12,5", "a b"])), max_size=40)


@given(CELLS, st.sampled_from([pl.String, pl.Categorical]))
def test_texts_and_places_are_the_column(cells, kind):
    found = distinct_texts(pl.Series(cells, dtype=pl.String).cast(kind))
    texts = found.texts.to_list()
    assert [texts[place] for place in found.places] == cells
    assert texts == list(dict.fromkeys(cells))


def test_what_was_read_once_stands_in_every_row():
    found = distinct_texts(pl.Series(["1", None, "2", "1"]))
    read = pl.DataFrame({"value": found.texts.cast(pl.Float64)})
    assert found.spread(read)["value"].to_list() == [1.0, None, 2.0, 1.0]


@pytest.mark.parametrize("kind", [pl.String, pl.Categorical])
def test_a_reason_is_told_for_each_row_that_has_its_text(kind):
    cells = pl.Series(["x", "1", "y", "x", None], dtype=pl.String).cast(kind)
    found = distinct_texts(cells)
    read = pl.DataFrame({"_place": [0, 2], "reason": ["is x", "is y"]})
    told = found.rows_of(read, pl.Series("_row", [10, 11, 12, 13, 14]))
    assert told.select("_row", "reason").rows() == [(10, "is x"), (12, "is y"), (13, "is x")]
    assert found.rows_of(read.clear(), pl.Series("_row", [10, 11, 12, 13, 14])).height == 0
