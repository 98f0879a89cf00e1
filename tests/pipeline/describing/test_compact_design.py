"""A compact design against the dense one."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing import rated_drains as module
from draincurve.pipeline.describing.compact_design import CompactDesign, compact_design
from draincurve.pipeline.describing.design_terms import contrast_term, number_term, pooled_term
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.schemas.settings import Priors

ROWS = 400


@pytest.fixture
def rows():
    rng = np.random.default_rng(5)
    names = ["soft", "medium", "hard", None]
    return pl.DataFrame(
        {
            "spring_type": [names[i] for i in rng.integers(4, size=ROWS)],
            "settling": rng.uniform(size=ROWS),
            "rider": [f"rider {i}" for i in rng.integers(5, size=ROWS)],
            "freshness": rng.uniform(size=ROWS),
        }
    )


@pytest.fixture
def terms(rows):
    return [
        contrast_term("spring_type", "spring type", rows),
        number_term("settling", "settling time", rows),
        pooled_term("rider", "rider", rows),
        number_term("freshness", "run-in of the spring", rows),
    ]


@pytest.fixture
def hours():
    return np.log(np.random.default_rng(6).uniform(4, 40, ROWS))


def dense(terms, rows):
    return np.hstack([term.encode(rows) for term in terms])


def test_the_columns_made_are_the_dense_ones(hours, terms, rows):
    compact = compact_design(hours, terms, rows=rows)
    assert compact.shape == (ROWS, 8)
    assert np.array_equal(compact.columns(), dense(terms, rows))
    assert np.array_equal(compact[50:60].columns(), dense(terms, rows)[50:60])
    some = np.array([7, 3, 399])
    assert np.array_equal(compact[some].columns(), dense(terms, rows)[some])


def test_means_centring_and_sums_are_those_of_the_dense_columns(hours, terms, rows):
    compact = compact_design(hours, terms, rows=rows).with_log_hours()
    whole = np.column_stack((hours, dense(terms, rows)))
    assert compact.columns() == pytest.approx(whole, abs=1e-15)
    assert compact.means() == pytest.approx(whole.mean(axis=0), abs=1e-13)
    centred = compact.minus(whole.mean(axis=0))
    assert centred.columns() == pytest.approx(whole - whole.mean(axis=0), abs=1e-14)
    coefficients = np.random.default_rng(7).normal(size=(3, 9))
    assert centred.combined(coefficients) == pytest.approx(coefficients @ centred.columns().T, abs=1e-12)


def test_columns_and_sums_have_the_same_bits_on_any_number_of_threads(all_threads, hours, terms, rows):
    compact = compact_design(hours, terms, rows=rows).with_log_hours()
    coefficients = np.random.default_rng(7).normal(size=(3, 9))
    columns, combined = compact.columns(), compact.combined(coefficients)
    with one_thread():
        assert np.array_equal(compact.columns(), columns)
        assert np.array_equal(compact.combined(coefficients), combined)


def test_a_design_of_numbers_alone_or_of_levels_alone(hours, terms, rows):
    for some in (terms[1::2], terms[::2], []):
        compact = compact_design(hours, some, rows=rows)
        expected = dense(some, rows) if some else np.empty((ROWS, 0))
        assert np.array_equal(compact.columns(), expected)
        assert compact.combined(np.ones((1, compact.shape[1])))[0] == pytest.approx(expected.sum(axis=1), abs=1e-13)


def test_the_fit_is_that_of_the_dense_design(hours, terms, rows):
    rng = np.random.default_rng(8)
    ratings, units = rng.integers(1, 6, size=ROWS), np.repeat(np.arange(40), 10)
    riders = (tuple(range(3, 7)),)
    given = {"prior": Priors(), "levels": 5, "pooled": riders}
    one = fit_rating_model(ratings, hours, dense(terms, rows), units, **given)
    other = fit_rating_model(ratings, hours, compact_design(hours, terms, rows=rows), units, **given)
    assert other.log_likelihood == pytest.approx(one.log_likelihood, abs=1e-8)
    assert other.coefficients == pytest.approx(one.coefficients, abs=1e-7)
    assert other.thresholds == pytest.approx(one.thresholds, abs=1e-7)


def test_a_compact_design_says_the_same():
    units, each = 210, 2
    rng = np.random.default_rng(9)
    keys = [f"u{unit:04d}" for unit in range(units) for _ in range(each)]
    count = len(keys)
    drains = pl.DataFrame(
        {
            "unit_key": keys,
            "drained_on": pl.date_range(pl.date(2000, 1, 1), pl.date(2030, 1, 1), eager=True).head(count),
            "oil_hours": rng.uniform(5, 30, count),
            "colour_low": rng.integers(1, 6, count),
            "debris_low": rng.integers(1, 6, count),
            "spring_type": [["soft", "hard"][i] for i in rng.integers(2, size=count)],
            "oil_grade": ["5W"] * count,
            "rider": [f"rider {i}" for i in rng.integers(3, size=count)],
            "settle_hours": rng.uniform(0, 1, count),
            "spring_hours": rng.uniform(0, 90, count),
            "service_kind": ["oil change"] * count,
            "line": range(count),
            "note": ["long words"] * count,
        }
    ).with_columns(
        pl.col("colour_low").alias("colour_high"),
        pl.col("debris_low").alias("debris_high"),
        pl.lit(500.0).alias("filled_ml"),
        pl.lit(495.0).alias("drained_ml"),
        *(pl.lit(None, pl.String).alias(name) for name in ("surface", "site", "rated_by", "drain_method")),
    )
    small = module.describe_channel(drains, "debris")
    assert "note" in module.describe_channel(drains, "debris", compact=True).rows.columns
    both = module.describe_channels(drains, compact=True)
    large = both["debris"]
    assert large.design is both["colour"].design
    assert large.low.tolist() == small.low.tolist()
    assert {item.channel for item in large.left_out} == {"debris"}
    assert isinstance(large.design, CompactDesign)
    assert "note" not in large.rows.columns
    assert large.terms[0].levels == small.terms[0].levels
    assert [term.column for term in large.terms] == [term.column for term in small.terms]
    assert large.left_out == small.left_out
    assert np.array_equal(large.design.columns(), small.design)
    assert np.array_equal(large.design_of(np.array([5, 1])), small.design_of(np.array([5, 1])))
    assert large.units.tolist() == small.units.tolist()
    assert np.array_equal(large.log_hours, small.log_hours)
