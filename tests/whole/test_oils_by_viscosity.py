"""`springs` and `backtest` let oils enter by viscosity where `plan` does."""

import polars as pl
import pytest

import draincurve
from draincurve.pipeline.describing.oil_viscosity import VISCOSITY
from draincurve.pipeline.judging.backtest import rolling_origin
from tests.pipeline.fitting.test_oil_term import by_line, oil_log, oils

SETTINGS = {"posterior_draws": 400}


@pytest.fixture(scope="module")
def drains():
    """Ratings that follow the oils' viscosity; springs take turns, and do not matter."""
    rows = oil_log(by_line(), units=12, drains=20)
    return rows.select(
        *("unit_id", "drained_on", "oil_hours", "oil_grade", "rider", "service_kind"),
        pl.col("debris_low").alias("debris_rating"),
        pl.when(pl.int_range(pl.len()) % 2 == 0).then(pl.lit("Plain 46")).otherwise(pl.lit("Stepped 46")).alias(
            "spring_type"
        ),
    )  # fmt: skip


def test_springs_are_compared_as_in_the_plan(drains):
    as_of = drains["drained_on"].max()
    planned = draincurve.plan(drains, as_of, oils=oils(), settings=SETTINGS)
    assert planned.described.oil_description.startswith("Oils are compared by their viscosity")
    alone = draincurve.compare_springs(drains, as_of, oils=oils(), settings=SETTINGS)
    assert alone.comparisons.comparisons == planned.judged.springs
    by_name = draincurve.compare_springs(drains, as_of, settings=SETTINGS)
    assert by_name.comparisons.comparisons != planned.judged.springs


def test_earlier_predictions_are_those_that_a_plan_would_have_made(drains, monkeypatch, trees_are_small):
    seen, fit_as_of = [], rolling_origin.fit_as_of

    def watched(rated, settings, *, rng):
        seen.append([term.column for term in rated.terms])
        return fit_as_of(rated, settings, rng=rng)

    monkeypatch.setattr(rolling_origin, "fit_as_of", watched)
    scores = []
    for table in (None, oils()):
        tried = draincurve.backtest(drains, drains["drained_on"].max(), oils=table, origins=1)
        scores.append(tried.predictions["score"].mean())
    by_name, by_viscosity = seen
    assert "oil_grade" in by_name
    assert VISCOSITY not in by_name
    assert VISCOSITY in by_viscosity
    assert "oil_grade" not in by_viscosity
    assert scores[0] != scores[1]
