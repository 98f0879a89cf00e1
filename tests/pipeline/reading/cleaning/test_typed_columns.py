"""Distinct texts of a column, and what was read from them spread over its rows."""

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.typed_columns import distinct_texts

CELLS = st.lists(st.one_of(st.none(), st.sampled_from(["", " ", "a", "b", "ä", "12,5", "a b"])), max_size=40)


@given(CELLS, st.sampled_from([pl.String, pl.Categorical]))
def test_texts_and_positions_are_the_column(cells, kind):
    texts, positions = distinct_texts(pl.Series(cells, dtype=pl.String).cast(kind))
    assert [texts[position] for position in positions] == cells
    assert texts.to_list() == list(dict.fromkeys(cells))
