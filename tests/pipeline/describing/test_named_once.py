"""Names of a large log as categories: the same log, and the texts back."""

import polars as pl
from polars.testing import assert_frame_equal

from draincurve.pipeline.describing.named_once import in_texts, with_names_once


def log(units):
    keys = [f"u{unit}" for unit in range(units)]
    return pl.DataFrame(
        {"unit_key": keys, "rider": ["AB", "CD"] * (units // 2), "oil_hours": [1.0] * units, "note": [None] * units},
        schema_overrides={"note": pl.String},
    )


def test_names_are_categories_and_texts_again():
    found = with_names_once(log(24))
    assert found.schema["rider"] == pl.Categorical
    assert found.schema["unit_key"] == pl.String
    assert_frame_equal(in_texts(found), log(24))
