"""A scale that runs the other way is asked about once a channel, and turned where the settings say so."""

import numpy as np
import polars as pl
import pytest

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
    logs = [check(*rated_rows(set(), units=4, drains=6, seed=seed, slope=0.001)) for seed in range(12)]
    assert sum(len(asked_channels(log)) for log in logs) <= 4


@pytest.mark.parametrize("end", [3, "5", True])
def test_a_clean_end_is_one_of_two(tmp_path, end) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(f"[clean_end]\ncolour_rating = {toml_text(end)}\n")
    with pytest.raises(SettingsError, match="expected one of 1, 5"):
        read_settings(path)
    assert filled(Settings(), {"clean_end": {"colour_rating": 5}}, "shop").clean_end == {"colour_rating": 5}
