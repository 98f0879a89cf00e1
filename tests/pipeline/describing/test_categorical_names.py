"""Names of a large log as categories: the same log, and the texts back."""

import polars as pl
from polars.testing import assert_frame_equal

from draincurve.pipeline.describing.categorical_names import as_texts, with_categorical_names


def log(units):
    keys = [f"u{unit}" for unit in range(units)]
    return pl.DataFrame(
        {"unit_key": keys, "rider": ["AB", "CD"] * (units // 2), "oil_hours": [1.0] * units, "note": [None] * units},
        schema_overrides={"note": pl.String},
    )


def test_names_are_categories_and_texts_again():
    found = with_categorical_names(log(24))
    assert found.schema["rider"] == pl.Categorical
    assert found.schema["unit_key"] == pl.String
    assert_frame_equal(as_texts(found), log(24))
