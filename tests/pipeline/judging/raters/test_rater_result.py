"""Raters: harsh, lenient, drifting, not separable; units are not blamed for them. Expectations: trade, trap 5."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from judged_log import fitted_fleet
from watched_fleets import LEVEL, NO_SECOND, FleetOptions, watched_log

from draincurve.pipeline.describing.second_ratings import SecondRatings
from draincurve.pipeline.fitting.rater_drift import rater_drifts
from draincurve.pipeline.judging.raters.rater_agreement import FEWEST_SHARED, agreements
from draincurve.pipeline.judging.raters.rater_result import (
    HARSHER,
    LENIENT,
    NO_CLEAR_DIFFERENCE,
    NOT_SEPARATED,
    RaterResult,
    judge_raters,
)
from draincurve.pipeline.judging.standing import fleet_standings, ratio_standings
from draincurve.schemas.next_service_table import FASTER
from draincurve.schemas.settings import Settings


def judged(options: FleetOptions, seed: int = 1) -> RaterResult:
    log = watched_log(options, seed)
    return judge_raters(fitted_fleet(log), log, second_ratings=NO_SECOND)


def verdicts(result: RaterResult) -> dict[str, str]:
    return {item.shift.rater: item.verdict for item in result.findings}


def own_ratios(fit):
    """Draws of each unit's hours ratio in this channel, (units, S)."""
    return np.exp(-fit.unit_sd * fit.effects.T / fit.hours_slope)


def test_a_rater_one_level_harsher_on_shared_units_is_named_and_no_unit_is_blamed():
    options = FleetOptions(units=12, drains=14, spread=0.3, bias=(("TW", LEVEL),))
    log = watched_log(options)
    fit = fitted_fleet(log)
    result = judge_raters(fit, log, second_ratings=NO_SECOND)
    assert verdicts(result) == {"KB": NO_CLEAR_DIFFERENCE, "MO": NO_CLEAR_DIFFERENCE, "TW": HARSHER}
    harsh = next(item for item in result.findings if item.shift.rater == "TW")
    middle, low, high = harsh.shift.levels
    assert low < 1.0 < high
    assert middle > 0.5
    assert harsh.shift.multiplier[2] < 1.0
    assert "TW rates about" in harsh.text
    assert "dirtier" in harsh.text
    assert [item.shift.rater for item in result.named] == ["TW"]
    rule, keys = Settings().standing, list(fit.unit_keys)
    units = ratio_standings(keys, own_ratios(fit), channels=["debris"] * len(keys), rated=fit.rated, rule=rule)
    standings = fleet_standings(units, rule)
    assert FASTER not in standings["standing"].to_list()


def test_without_the_rater_term_a_unit_seen_by_the_harsh_rater_looks_fast():
    """What the rater term protects from: the harsh rater sees some shared units far more often."""
    log = watched_log(FleetOptions(units=12, drains=20, spread=0.2, bias=(("TW", 1.4 * LEVEL),)), seed=3)
    often = (pl.col("unit_key") == "u000") & (pl.col("rated_by") != "TW") & (pl.int_range(pl.len()) % 4 != 0)
    log = log.filter(~often)
    aware, blind = fitted_fleet(log), fitted_fleet(log.with_columns(pl.lit(None, dtype=pl.String).alias("rated_by")))

    def ratio(fit):
        return np.median(own_ratios(fit)[fit.unit_keys.index("u000")])

    assert ratio(blind) < ratio(aware)


def test_a_lenient_rater_is_named():
    found = verdicts(judged(FleetOptions(units=12, drains=16, spread=0.3, bias=(("MO", -LEVEL),)), seed=2))
    assert found == {"KB": NO_CLEAR_DIFFERENCE, "MO": LENIENT, "TW": NO_CLEAR_DIFFERENCE}


def test_raters_who_see_only_their_own_units_cannot_be_separated():
    result = judged(FleetOptions(units=9, drains=14, own_units=True, bias=(("TW", LEVEL),)))
    assert set(verdicts(result).values()) == {NOT_SEPARATED}
    assert all(item.shift.levels is None and item.shift.shared_units == 0 for item in result.findings)
    assert "cannot be separated" in result.findings[0].text
    assert result.named == ()


def test_one_rater_on_own_units_does_not_spoil_the_others():
    log = watched_log(FleetOptions(units=12, drains=14, spread=0.3, bias=(("TW", LEVEL),)))
    apart = pl.col("unit_key").is_in(["u010", "u011"])
    log = log.with_columns(pl.when(apart).then(pl.lit("ZZ")).otherwise("rated_by").alias("rated_by"))
    found = verdicts(judge_raters(fitted_fleet(log), log, second_ratings=NO_SECOND))
    assert found["ZZ"] == NOT_SEPARATED
    assert found["TW"] == HARSHER


def test_raters_who_followed_one_another_cannot_be_told_from_the_calendar():
    """KB and MO rate the same units, the one before and the other after a day; TW rates all the time."""
    log = watched_log(FleetOptions(units=12, drains=14, spread=0.3, raters=("KB", "TW"), bias=(("TW", LEVEL),)))
    later = pl.when(pl.col("drained_on") > pl.lit(log["drained_on"].median())).then(pl.lit("MO"))
    two = log.with_columns(later.otherwise(pl.lit("KB")).alias("rated_by"))
    result = judge_raters(fitted_fleet(two), two, second_ratings=NO_SECOND)
    assert set(verdicts(result).values()) == {NOT_SEPARATED}
    assert all("cannot be separated from the calendar" in item.text for item in result.findings)
    by_turns = pl.when(pl.col("rated_by") == "TW").then(pl.lit("TW")).otherwise(later.otherwise(pl.lit("KB")))
    three = log.with_columns(by_turns.alias("rated_by"))
    found = verdicts(judge_raters(fitted_fleet(three), three, second_ratings=NO_SECOND))
    assert found["TW"] == HARSHER
    assert NOT_SEPARATED not in found.values()


def test_of_two_raters_the_log_cannot_say_who_is_right():
    result = judged(FleetOptions(units=12, drains=14, spread=0.3, raters=("KB", "TW"), bias=(("TW", LEVEL),)))
    assert verdicts(result) == {"KB": LENIENT, "TW": HARSHER}
    assert all("Which of the two is right the log cannot say." in item.text for item in result.findings)
    assert "than KB" in result.findings[1].text


def test_equal_raters_are_not_named():
    assert judged(FleetOptions(units=12, drains=14), seed=6).named == ()


def test_a_drifting_rater_is_named_and_the_others_are_not():
    result = judged(FleetOptions(units=12, drains=24, spread=0.3, drift=(("MO", 3.5),)), seed=2)
    drifting = [item.shift.rater for item in result.findings if item.drift is not None and item.drift.named]
    assert drifting == ["MO"]
    found = next(item for item in result.findings if item.shift.rater == "MO")
    assert found.drift.levels_per_year > 0.5
    assert "Drifts: rates ever dirtier" in found.text


def test_of_two_raters_either_may_be_the_one_who_drifts():
    result = judged(FleetOptions(units=12, drains=20, spread=0.3, raters=("KB", "TW"), drift=(("TW", 4.0),)), seed=2)
    named = [item for item in result.findings if item.drift is not None and item.drift.named]
    assert len(named) == 1
    assert "the other way" in named[0].text


def test_a_change_of_the_whole_fleet_is_no_drift():
    everybody = (("KB", 2.0), ("TW", 2.0), ("MO", 2.0))
    result = judged(FleetOptions(units=12, drains=20, spread=0.3, drift=everybody), seed=3)
    assert not any(item.drift.named for item in result.findings if item.drift is not None)


def test_scores_of_steady_raters_are_standard_normal():
    scores = np.array(
        [
            item.score
            for seed in range(7)
            for item in rater_drifts(fitted_fleet(watched_log(FleetOptions(units=5, drains=14), seed)))
        ]
    )
    assert scores.size == 21
    assert abs(scores.mean()) < 0.75
    assert 0.5 < scores.std() < 1.6


@pytest.mark.parametrize(
    ("raters", "said"), [(("KB",), "only KB is named as rater"), ((None,), "no drain names its rater")]
)
def test_one_rater_or_none_compares_nobody(raters, said):
    log = watched_log(FleetOptions(units=4, drains=6, raters=("KB",)))
    log = log.with_columns(pl.lit(raters[0], dtype=pl.String).alias("rated_by"))
    result = judge_raters(fitted_fleet(log), log, second_ratings=NO_SECOND)
    assert said in result.why_not
    assert result.findings == ()


def test_a_rater_of_second_ratings_only_is_named_too():
    log = watched_log(FleetOptions(units=4, drains=6, raters=("KB",)))
    fit = fitted_fleet(log)
    twice = SecondRatings(*(np.array([value]) for value in (0, 2, 2)), np.array(["TW"], dtype=object))
    fit = replace(fit, drains=replace(fit.drains, second=twice))
    result = judge_raters(fit, log, second_ratings=NO_SECOND)
    assert result.why_not == "TW rated only drains that KB rated too: compared below by these alone"
    assert result.reference_text == "The limits follow the eye of KB."


def agreed(rated: tuple[pl.DataFrame, pl.DataFrame]):
    drains, second = rated
    return agreements("debris", drains, second_ratings=second)


def double_rated(levels: list[tuple[int, int]]) -> tuple[pl.DataFrame, pl.DataFrame]:
    drains = pl.DataFrame(
        {
            "source": "log.csv",
            "line": range(2, 2 + len(levels)),
            "rated_by": "KB",
            "debris_low": [a for a, _ in levels],
        }
    ).with_columns(pl.col("debris_low").alias("debris_high"))
    second = pl.DataFrame(
        {
            "drain_source": "log.csv",
            "drain_line": range(2, 2 + len(levels)),
            "rated_by": "TW",
            "debris_low": [b for _, b in levels],
        }
    ).with_columns(pl.col("debris_low").alias("debris_high"))
    return drains, second


def test_agreement_of_double_rated_drains():
    found = agreed(double_rated([(1, 1), (2, 2), (3, 3), (4, 4), (2, 3), (3, 2)] * 4))
    assert len(found) == 1
    assert (found[0].first, found[0].second, found[0].drains, found[0].same_level) == ("KB", "TW", 24, 16)
    assert found[0].mean_difference == 0.0
    assert 0.6 < found[0].kappa.value < 0.9
    assert found[0].kappa.low < found[0].kappa.value < found[0].kappa.high
    assert "agreement good" in found[0].text


@pytest.mark.parametrize("levels", [[(1, 1)] * 30, [(1, 2), (2, 1)] * (FEWEST_SHARED // 2 - 1)])
def test_kappa_is_not_given_where_it_says_nothing(levels):
    found = agreed(double_rated(levels))[0]
    assert found.kappa.value is None
    assert "to say how far they agree" in found.text


def test_no_double_rated_drain_no_agreement():
    assert agreed(double_rated([])) == ()
