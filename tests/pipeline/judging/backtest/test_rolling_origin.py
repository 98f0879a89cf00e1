import numpy as np
import polars as pl
import pytest
from backtest_fleets import accepted, plan, with_ratings_shuffled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from draincurve.pipeline.judging.backtest.backtest_verdicts import first_screen_sentence, holding_sentence
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.judging.backtest.rolling_origin import backtest
from draincurve.schemas.backtest_table import checked_backtest
from draincurve.schemas.settings import Settings

SHOP = Settings()
RATINGS = [f"{channel}_{end}" for channel in ("colour", "debris") for end in ("low", "high")]


def run(drains, origins=3, rivals=False, seed=1, **options):
    return backtest(drains, SHOP, rng=np.random.default_rng(seed), origins=origins, rivals=rivals, **options)


@pytest.fixture(scope="module")
def right():
    """A fleet of 60 units whose ratings follow the model.

    A right model is doubted in one log of forty. Fleet 5 is on the edge of that: it is doubted with some draws.
    """
    return run(accepted(plan(units=60, drains=720), 7), origins=3)


def test_a_right_model_is_closer_than_the_fleets_ratings(right):
    assert isinstance(right, BacktestResult)
    for channel in right.channels:
        assert channel.fleet.beaten
        assert channel.fleet_by_hours.beaten
        assert not channel.model_loses
        assert channel.boosted is None
        assert "by more than chance" in channel.verdict
    assert first_screen_sentence(right) is None
    assert holding_sentence(right).startswith("Predictions of colour and debris came closer")


def test_a_right_model_is_calibrated(right):
    for channel in right.channels:
        assert channel.whole is not None
        assert channel.whole.low <= channel.whole.expected / channel.whole.drains <= channel.whole.high
        # Of 8 bins at 95 % each, 2 or more miss in 1 case of 20 (binomial), 3 or more in 1 of 170.
        assert sum(not item.low <= item.predicted <= item.high for item in channel.bins) <= 2
        assert abs(channel.spiegelhalter_z) < 3.0
        for item in channel.coverage:
            # Drains of one unit share its luck, so the shares vary more than the Wilson interval allows for.
            assert item.covered == pytest.approx(item.nominal, abs=1.5 * (item.high - item.low) / 2 + 0.01)
            assert item.fewest - 2 <= item.misses <= item.most + 2


def test_rows_hold_to_their_schema_and_sum_up_to_the_scores(right):
    rows = checked_backtest(right.rows)
    for channel in right.channels:
        own = rows.filter(pl.col("channel") == channel.channel)
        assert own.height == channel.drains
        assert own["score"].mean() == pytest.approx(channel.score)
        assert own["score_fleet"].mean() == pytest.approx(channel.fleet.score)
        assert own["p_past_limit"].to_numpy() == pytest.approx((own["p4"] + own["p5"]).to_numpy())
        assert sum(item.drains for item in channel.bins) == channel.drains
    assert rows["score_boosted"].null_count() == rows.height


def test_noise_is_never_called_a_win():
    for seed in (1, 2, 3, 4):
        result = run(with_ratings_shuffled(accepted(plan(), seed), seed), origins=2, seed=seed)
        assert isinstance(result, BacktestResult)
        for channel in result.channels:
            assert not channel.fleet.beaten
            assert "Closer than the fleet's ratings alone, by more than chance" not in channel.verdict
            assert (first_screen_sentence(result) is None) == (
                not any(item.model_loses or item.understated for item in result.channels)
            )


def test_worse_than_said_is_told_first():
    """Once every unit's oil goes bad in half the hours, earlier predictions understate the risk."""
    drains = accepted(plan(units=30, drains=360), 3)
    turn = drains["drained_on"].sort()[int(0.45 * drains.height)]
    worse = drains.with_columns(
        pl.when(pl.col("drained_on") > turn).then((pl.col(name) + 2).clip(1, 5)).otherwise(pl.col(name)).alias(name)
        for name in RATINGS
    )
    result = run(worse, origins=1)
    assert isinstance(result, BacktestResult)
    assert all(channel.understated for channel in result.channels)
    sentence = first_screen_sentence(result)
    assert sentence is not None
    assert "the risk was understated" in sentence
    assert "change the oil earlier" in sentence


def test_too_little_is_a_sentence():
    drains = accepted(plan(units=6, drains=48), 2)
    assert "19 rated drains" in run(drains.head(19))
    one_day = drains.with_columns(pl.lit(drains["drained_on"][0]).alias("drained_on"))
    assert "same date" in run(one_day)
    unrated = drains.with_columns(pl.lit(None, dtype=pl.Int64).alias(name) for name in RATINGS)
    assert "0 rated drains" in run(unrated)


def test_a_channel_that_was_not_rated_is_named():
    drains = accepted(plan(units=6, drains=48), 2).with_columns(
        pl.lit(None, dtype=pl.Int64).alias(name) for name in RATINGS[2:]
    )
    result = run(drains, origins=2)
    assert isinstance(result, BacktestResult)
    assert [channel.channel for channel in result.channels] == ["colour"]
    assert [name for name, _ in result.without] == ["debris"]


def test_two_units_give_no_claim_of_more_than_chance():
    result = run(accepted(plan(units=2, drains=40), 2), origins=2)
    assert isinstance(result, BacktestResult)
    for channel in result.channels:
        assert channel.fleet.low is None
        assert not channel.fleet.beaten


def test_same_seed_same_bytes_and_trees_take_part():
    drains = accepted(plan(), 7)
    first, again = run(drains, origins=1, rivals=True), run(drains, origins=1, rivals=True)
    assert isinstance(first, BacktestResult)
    assert isinstance(again, BacktestResult)
    assert first.channels == again.channels
    assert first.rows.equals(again.rows)
    for channel in first.channels:
        assert channel.boosted is not None
        assert 0.0 < channel.boosted.score < 0.5


def test_large_logs_are_tried_on_whole_units():
    drains = accepted(plan(), 7)
    result = run(drains, origins=1, most_drains=100)
    assert isinstance(result, BacktestResult)
    assert result.note is not None
    assert "drawn at random" in result.note
    counts = drains["unit_id"].value_counts()
    tried = result.rows["unit_id"].unique()
    assert counts.filter(pl.col("unit_id").is_in(tried.to_list()))["count"].sum() <= 100


SMALL = accepted(plan(units=8, drains=80), 11)


@pytest.fixture(scope="module")
def predicted():
    return run(SMALL, origins=3)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10_000), window=st.integers(0, 2))
def test_nothing_from_the_origin_on_is_used(predicted, seed, window):
    """Ratings from an origin on, and hours, volumes and riders after its window, change nothing it says."""
    assert isinstance(predicted, BacktestResult)
    rng = np.random.default_rng(seed)
    origins = sorted(predicted.rows["origin"].unique())
    origin = origins[window]
    until = origins[window + 1] if window + 1 < len(origins) else None
    from_origin = pl.col("drained_on") >= origin
    after = pl.col("drained_on") >= until if until is not None else pl.lit(False)
    other = pl.Series(rng.integers(1, 6, SMALL.height))
    changed = SMALL.with_columns(
        *(pl.when(from_origin).then(other).otherwise(pl.col(name)).alias(name) for name in RATINGS),
        pl.when(after).then(pl.col("oil_hours") * rng.uniform(0.5, 2.0)).otherwise("oil_hours").alias("oil_hours"),
        pl.when(after).then(pl.col("drained_ml") * 0.9).otherwise("drained_ml").alias("drained_ml"),
        pl.when(after).then(pl.lit("Neu")).otherwise("rider").alias("rider"),
    )
    again = run(changed, origins=3)
    assert isinstance(again, BacktestResult)
    said = ["unit_id", "drained_on", "oil_hours", "channel", "p1", "p2", "p3", "p4", "p5"]
    own = pl.col("origin") <= origin
    assert again.rows.filter(own).select(said).equals(predicted.rows.filter(own).select(said))
