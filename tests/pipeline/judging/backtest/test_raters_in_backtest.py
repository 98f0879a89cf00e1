"""The backtest knows of raters what a plan as of that date would have known: pairs of ratings, and who drifts."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.judging.backtest import model_predictions
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.judging.backtest.rolling_origin import backtest
from draincurve.schemas.settings import Settings
from tests.calibration.double_rated import double_rated_log
from tests.pipeline.judging.watched_fleets import FleetOptions, watched_log

DRAIN = ["unit_id", "drained_on", "oil_hours"]
COLOUR = ("colour_low", "colour_high")


def predicted(drains, *, origins, second=None):
    """The predicted drains with their raters."""
    rng = np.random.default_rng(1)
    found = backtest(drains, Settings(), rng=rng, origins=origins, rivals=False, second_ratings=second)
    assert isinstance(found, BacktestResult)
    return found.rows.join(drains.select(*DRAIN, "rated_by"), on=DRAIN, how="left", maintain_order="left")


def score_of(rows, rater):
    return rows.filter(rated_by=rater)["score"].mean()


@pytest.fixture(scope="module")
def twice_rated():
    """TW, who rates far dirtier, took half of the drains over from KB; before, TW rated four and looked at KB's."""
    fleet = double_rated_log(np.random.default_rng(5), share=0.5, units=16, drains=10, bias=-2.5)
    own, as_second = fleet.by_reference
    pairs = fleet.second.select(pl.lit("log.csv").alias("drain_source"), pl.col("line").alias("drain_line"), pl.all())
    middle = own["drained_on"].median()
    by_tw = own.filter(pl.col("rated_by") == "TW", pl.col("drained_on") < middle)["line"][4:]
    kept = pl.col("line").is_in(by_tw.implode())
    drains = pl.concat([own.filter(~kept), fleet.drains.filter(kept)]).sort("line")
    second = pl.concat(
        [
            as_second.filter(~pl.col("drain_line").is_in(by_tw.implode())),
            pairs.filter(kept).select(*as_second.columns[:5], *[pl.lit(None, pl.Int64).alias(n) for n in COLOUR]),
        ]
    )
    return drains, second


def test_pairs_of_ratings_tell_how_raters_differ(twice_rated):
    drains, second = twice_rated
    without, told = (predicted(drains, origins=1, second=pairs) for pairs in (None, second))
    assert score_of(told, "TW") < 0.9 * score_of(without, "TW")


def test_no_pair_from_an_origin_on_is_used(twice_rated):
    drains, second = twice_rated
    rows = predicted(drains, origins=2, second=second)
    origin = rows["origin"].max()
    later = drains.filter(pl.col("drained_on") >= origin)["line"]
    levels = ["debris_low", "debris_high"]
    other = second.with_columns(
        pl.when(pl.col("drain_line").is_in(later.implode())).then(1).otherwise(pl.col(levels)).name.keep()
    )
    assert not other.equals(second)
    assert predicted(drains, origins=2, second=other).equals(rows)


@pytest.mark.parametrize("drift", [4.0, -4.0])
def test_a_rater_who_drifts_is_predicted_from_where_the_drift_has_come(drift, monkeypatch):
    drains = watched_log(FleetOptions(units=12, drains=30, drift=(("MO", drift),)), seed=3)
    rows = predicted(drains, origins=6)
    monkeypatch.setattr(model_predictions, "rater_drifts", lambda _: ())
    as_rated = predicted(drains, origins=6)
    assert score_of(rows, "MO") < 0.97 * score_of(as_rated, "MO")


def test_where_nobody_drifts_nothing_changes(monkeypatch):
    drains = watched_log(FleetOptions(units=6, drains=16), seed=1)
    rows = predicted(drains, origins=2)
    monkeypatch.setattr(model_predictions, "rater_drifts", lambda _: ())
    assert predicted(drains, origins=2).equals(rows)
