"""Ratings that one of several raters gives the other way round since, or until, some day are found."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.validating.turned_ratings import turned_raters, turned_spells

TURNED_ON = date(2026, 5, 1)
EDGES = np.array([4.0, 9.0, 18.0, 40.0])


def fleet(
    seed: int, *, raters: int = 3, usual: float = 10.0, spread: float = 0.5, units: int = 16, dirty_unit: bool = False
) -> pl.DataFrame:
    """Fills of units and raters who differ; hours vary about the usual by `spread`, the sd of their logarithms."""
    rng = np.random.default_rng(seed)
    eyes, rows = rng.normal(0, 0.7, raters), []
    for unit in range(units):
        shift, day = rng.normal(0, 0.8), date(2026, 6, 10) - timedelta(days=int(rng.integers(10)))
        for fill in range(14):
            hours, rater = float(usual * np.exp(rng.normal(0, spread))), int(rng.integers(raters))
            latent = 3.0 * np.log(hours / EDGES) + shift + eyes[rater] + rng.logistic()
            worse = 4.0 if dirty_unit and unit == 0 and fill < 7 else 0.0
            level = 1.0 + float((latent + worse > 0).sum())
            rows.append((f"U{unit}", day, hours, level, f"by 'R{rater}'" if raters > 1 else "", False))
            day -= timedelta(days=int(rng.integers(7, 14)))
    return pl.DataFrame(rows, schema=["unit_key", "_day", "_hours", "_level", "_rater", "_confirmed"], orient="row")


def turned(fills: pl.DataFrame, when: pl.Expr) -> pl.DataFrame:
    return fills.with_columns(pl.when(when).then(6.0 - pl.col("_level")).otherwise("_level").alias("_level"))


SINCE = (pl.col("_rater") == "by 'R0'") & (pl.col("_day") >= TURNED_ON)
UNTIL = (pl.col("_rater") == "by 'R0'") & (pl.col("_day") < TURNED_ON)


@pytest.mark.parametrize(("usual", "spread"), [(10.0, 0.5), (6.0, 0.15)])
def test_a_rater_who_turns_the_scale_is_found_with_the_days(usual: float, spread: float) -> None:
    found = [turned_spells(turned(fleet(seed, usual=usual, spread=spread), SINCE)) for seed in range(20)]
    named = [spell for spells in found for spell in spells]
    assert {spell.rater for spell in named} == {"by 'R0'"}
    assert len(named) >= 16
    late = [spell for spell in named if spell.since is not None and spell.since > TURNED_ON + timedelta(days=7)]
    assert len(late) <= 2


def test_a_rater_who_turned_it_until_some_day_is_found() -> None:
    found = [spell for seed in range(20) for spell in turned_spells(turned(fleet(seed), UNTIL))]
    assert {spell.rater for spell in found} == {"by 'R0'"}
    assert sum(spell.until is not None and spell.since is None for spell in found) >= 12


def test_days_up_to_the_last_are_all_days_however_the_sums_round() -> None:
    for seed in range(20):
        fills = turned(fleet(seed), pl.col("_rater") == "by 'R0'")
        last = fills.filter(pl.col("_rater") == "by 'R0'")["_day"].max()
        orders = [fills.sample(fraction=1.0, shuffle=True, seed=order) for order in range(5)]
        found = {spell for order in orders for spell in turned_spells(order)}
        assert len(found) <= 1
        assert last not in {spell.until for spell in found}


@pytest.mark.parametrize(("usual", "spread"), [(10.0, 0.5), (6.0, 0.15)])
@pytest.mark.parametrize("dirty_unit", [False, True])
@pytest.mark.parametrize("raters", [1, 3])
def test_nobody_else_is_asked_about(raters: int, usual: float, spread: float, dirty_unit: bool) -> None:
    found = [
        turned_spells(fleet(seed, raters=raters, usual=usual, spread=spread, dirty_unit=dirty_unit, units=8))
        for seed in range(60)
    ]
    assert sum(map(bool, found)) <= 1


def test_where_nobody_is_named_ratings_must_fall_with_hours() -> None:
    since = pl.col("_day") >= TURNED_ON
    found = [spell for seed in range(20) for spell in turned_spells(turned(fleet(seed, raters=1), since))]
    assert len(found) >= 16
    assert {spell.words[:12] for spell in found} == {"since 2026-0"}


def test_confirmed_ratings_are_not_asked_about() -> None:
    assert turned_spells(turned(fleet(0), SINCE))
    assert not turned_spells(turned(fleet(0), SINCE).with_columns(SINCE.alias("_confirmed")))


FIRST = pl.col("_rater") == "by 'R0'"


@pytest.mark.parametrize("raters", [2, 4])
def test_a_rater_of_few_drains_who_turns_both_scales_is_found(raters: int) -> None:
    """Of 8 units with 5 drains each, some 20 or 10 are this rater's."""
    found, nobody = [], []
    for seed in range(30):
        few = [fleet(100 * channel + seed, raters=raters, units=8) for channel in (0, 1)]
        few = [fills.filter(pl.int_range(pl.len()).over("unit_key") < 5) for fills in few]
        nobody += turned_raters(few)
        found += turned_raters([turned(fills, FIRST) for fills in few])
    assert set(found) == {"by 'R0'"}
    assert len(found) >= 12
    assert not nobody


def test_a_rater_who_gives_any_level_or_is_a_level_harsher_is_not_asked_about() -> None:
    found = []
    for seed in range(30):
        fills = [fleet(100 * channel + seed, raters=2, units=8) for channel in (0, 1)]
        random = pl.Series(np.random.default_rng(seed).integers(1, 6, size=fills[0].height).astype(float))
        found += turned_raters(
            [of.with_columns(pl.when(FIRST).then(random).otherwise("_level").alias("_level")) for of in fills]
        )
        harsher = pl.when(FIRST).then((pl.col("_level") + 1).clip(1, 5)).otherwise("_level")
        found += turned_raters([of.with_columns(harsher.alias("_level")) for of in fills])
    assert len(found) <= 1
