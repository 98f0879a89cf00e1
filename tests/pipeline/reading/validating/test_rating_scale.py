"""A scale that runs the other way is asked about once a channel, and turned where the settings say so."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.working_table import FINDINGS_SCHEMA, WorkingTable
from draincurve.pipeline.reading.validating.rating_scale import with_scale_questions
from draincurve.schemas.checked_settings import filled, toml_text
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import Settings, read_settings


def rated_rows(
    turned: set[str], *, units: int = 6, drains: int = 10, seed: int = 4, slope: float = 3.0
) -> list[dict]:
    """Drains whose ratings rise with hours, but of the channels in `turned` typed with 5 for clean."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(units):
        for month in range(1, drains + 1):
            hours = float(rng.uniform(5, 25))
            row = {"unit_id": f"F{unit}", "drained_on": f"2026-{month:02d}-01", "oil_hours": f"{hours:.1f}"}
            for channel in ("colour", "debris"):
                latent = slope * np.log(hours / np.array([4.0, 9.0, 18.0, 40.0])) + rng.logistic()
                level = 1 + int((latent > 0).sum())
                row[f"{channel}_rating"] = str(6 - level if channel in turned else level)
            rows.append(row)
    return rows


def asked_channels(log) -> set[str]:
    rows = log.asked.filter(pl.col("message").str.contains("ratings fall with hours: is 5 the clean end"))
    return {name.removesuffix("_rating") for name in rows["column"]}


def asked_of(rows: list[dict]) -> list[str]:
    """What is asked about the scales alone, without the other checks of a log."""
    typed = pl.DataFrame(rows).select(
        pl.col("unit_id").alias("unit_key"),
        pl.col("drained_on").str.to_date(),
        pl.col("oil_hours").cast(pl.Float64),
        *(
            pl.col(f"{channel}_rating").cast(pl.Int64).alias(f"{channel}_{end}")
            for channel in ("colour", "debris")
            for end in ("low", "high")
        ),
        pl.col("rated_by") if "rated_by" in rows[0] else pl.lit(None, pl.String).alias("rated_by"),
        site=pl.lit(None, pl.String),
        service_kind=pl.lit("oil"),
        hours_in_question=pl.lit(False),
        confirmed=pl.lit(None, pl.Boolean),
    )
    typed = typed.with_row_index("_row")
    drains = WorkingTable("drains", "log.csv", typed.select("_row"), typed, pl.DataFrame(schema=FINDINGS_SCHEMA))
    return with_scale_questions(drains, {}).findings["message"].to_list()


@pytest.mark.parametrize("turned", [set(), {"colour"}, {"debris"}, {"colour", "debris"}])
def test_a_turned_scale_is_asked_about(check, turned: set[str]) -> None:
    log = check(*rated_rows(turned))
    assert asked_channels(log) == turned
    drains = log.accepted["drains"]
    assert {name for name in ("colour", "debris") if drains[f"{name}_in_question"].all()} == turned


def test_the_settings_turn_it(check) -> None:
    log = check(*rated_rows({"debris"}), settings=Settings(clean_end={"debris_rating": 5}))
    right = check(*rated_rows(set()))
    assert asked_channels(log) == set()
    levels = ["debris_low", "debris_high"]
    assert log.accepted["drains"].select(levels).equals(right.accepted["drains"].select(levels))


def test_a_range_is_turned_as_a_whole(check) -> None:
    drains = check({"colour_rating": "4-5"}, settings=Settings(clean_end={"colour_rating": 5})).accepted["drains"]
    assert drains.select("colour_low", "colour_high").row(0) == (1, 2)


def test_the_settings_silence_the_question(check) -> None:
    log = check(*rated_rows({"debris"}), settings=Settings(clean_end={"debris_rating": 1}))
    assert asked_channels(log) == set()
    assert not log.accepted["drains"]["debris_in_question"].any()


def test_ratings_that_have_nothing_to_do_with_hours_are_seldom_asked_about(check) -> None:
    logs = [rated_rows(set(), units=4, drains=6, seed=seed, slope=0.001) for seed in range(12)]
    assert sum(len(asked_of(rows)) for rows in logs) <= 4
    assert len(asked_channels(check(*logs[0]))) == len(asked_of(logs[0]))


@pytest.mark.parametrize("end", [3, "5", True])
def test_a_clean_end_is_one_of_two(tmp_path, end) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(f"[clean_end]\ncolour_rating = {toml_text(end)}\n")
    with pytest.raises(SettingsError, match="expected one of 1, 5"):
        read_settings(path)
    assert filled(Settings(), {"clean_end": {"colour_rating": 5}}, "shop").clean_end == {"colour_rating": 5}


def rated_by_three(turned: set[str], *, seed: int, by: str = "rated_by") -> list[dict]:
    """Drains rated in turn by three people, or at three sites; those in `turned` rate 5 for clean."""
    rows = []
    rng = np.random.default_rng(seed)
    for row in rated_rows(set(), units=20, drains=11, seed=seed, slope=6.0):
        rater = str(rng.choice(["Ana", "Bo", "Lou"]))
        levels = {name: str(6 - int(row[name])) for name in ("colour_rating", "debris_rating") if rater in turned}
        rows.append(row | levels | {by: rater})
    return rows


@pytest.mark.parametrize(("by", "words"), [("rated_by", "by 'Lou'"), ("site", "at 'Lou'")])
def test_one_rater_or_site_may_turn_the_scale(check, by: str, words: str) -> None:
    log = check(*rated_by_three({"Lou"}, seed=3, by=by))
    assert log.asked.filter(pl.col("message").str.contains(f"ratings {words} fall with hours")).height == 2
    drains = log.accepted["drains"]
    assert (drains["colour_in_question"] == (drains[by] == "Lou")).all()


def test_one_of_three_who_leaves_the_rater_blank_may_turn_the_scale(check) -> None:
    """Drains few enough that both channels together show it."""
    rows = [row | {"rated_by": row["rated_by"].replace("Lou", "")} for row in rated_by_three({"Lou"}, seed=3)[:110]]
    log = check(*rows)
    assert log.asked.filter(pl.col("message").str.contains("ratings without a rater .*turned round")).height == 2
    drains = log.accepted["drains"]
    assert (drains["debris_in_question"] == drains["rated_by"].is_null()).all()


@pytest.mark.parametrize(("debris_rises", "asked"), [(True, {"colour"}), (False, {"colour", "debris"})])
def test_who_turns_one_scale_is_asked_about_the_other_unless_that_rises(check, debris_rises: bool, asked) -> None:
    rng = np.random.default_rng(8)
    rows = []
    for turned, right in zip(rated_by_three({"Lou"}, seed=3), rated_by_three(set(), seed=3), strict=True):
        theirs = right["debris_rating"] if debris_rises else str(rng.integers(1, 5))
        rows.append(turned | {"debris_rating": theirs if turned["rated_by"] == "Lou" else right["debris_rating"]})
    log = check(*rows)
    about = log.asked.filter(pl.col("message").str.contains("ratings by 'Lou'"))
    assert {message.split()[0] for message in about["message"]} == asked
    drains = log.accepted["drains"]
    assert (drains["debris_in_question"] == ((drains["rated_by"] == "Lou") & (not debris_rises))).all()


def test_a_confirmed_rater_is_not_asked_about(check) -> None:
    rows = [row | {"confirmed": "yes" if row["rated_by"] == "Lou" else ""} for row in rated_by_three({"Lou"}, seed=3)]
    log = check(*rows)
    assert not log.accepted["drains"]["colour_in_question"].any()


def test_raters_who_rate_alike_are_not_asked_about(check) -> None:
    assert not any(asked_of(rated_by_three(set(), seed=seed)) for seed in range(40))
    assert asked_of(rated_by_three({"Lou"}, seed=3))
    assert not check(*rated_by_three(set(), seed=0)).asked["message"].str.contains("fall with hours").any()
