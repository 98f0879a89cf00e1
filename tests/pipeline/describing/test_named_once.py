"""Names of a large log as categories: the same log, and the texts back."""

import polars as pl
from polars.testing import assert_frame_equal

from draincurve.pipeline.describing import named_once
from draincurve.pipeline.describing.named_once import in_texts, with_names_once


def log(units):
    keys = [f"u{unit}" for unit in range(units)]
    return pl.DataFrame(
        {"unit_key": keys, "rider": ["AB", "CD"] * (units // 2), "oil_hours": [1.0] * units, "note": [None] * units},
        schema_overrides={"note": pl.String},
    )


def test_a_small_log_and_one_of_few_units_stay_as_they_are(monkeypatch):
    small = log(2_400)
    assert with_names_once(small) is small
    monkeypatch.setattr(named_once, "LARGE_LOG_ROWS", 100)
    few = log(1_800)
    assert with_names_once(few) is few


def test_names_of_a_large_log_are_categories_and_texts_again(monkeypatch):
    monkeypatch.setattr(named_once, "LARGE_LOG_ROWS", 100)
    found = with_names_once(log(2_400))
    assert found.schema["rider"] == pl.Categorical
    assert found.schema["unit_key"] == pl.String
    assert_frame_equal(in_texts(found), log(2_400))
