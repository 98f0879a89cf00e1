"""Hours on the part: sums of the fills before, from the last rebuild on."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from described_log import accepted

from draincurve.pipeline.describing.drain_selection import by_unit_batches
from draincurve.pipeline.describing.fill_conditions import with_conditions
from draincurve.pipeline.describing.fleet_state import fleet_state, new_unit_rows
from draincurve.pipeline.describing.part_age import usual_fill
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.schemas.settings import Priors

AS_OF = date(2027, 1, 1)
UNIT, KIND = [f"u{i // 8}" for i in range(24)], ["oil"] * 24


def ages(log: pl.DataFrame, unit: str) -> list[float]:
    return with_conditions(log).filter(pl.col("unit_key") == unit)["part_age"].to_list()


def eight_fills_a_unit(**columns: object) -> pl.DataFrame:
    """Three units, each with eight fills of 10 h."""
    days = [date(2026, 1, 1 + i % 8) for i in range(24)]
    log = accepted(**{"unit_key": UNIT, "drained_on": days, "oil_hours": 10.0} | columns)
    words = {name: pl.lit(None, dtype=pl.String) for name in ("machine", "chamber")}
    return log.with_columns(**words | dict.fromkeys(("milky", "burnt", "leak"), pl.lit(None, dtype=pl.Boolean)))


def age_now(log: pl.DataFrame) -> list[float]:
    return fleet_state(log, None, as_of=AS_OF)["part_age_now"].to_list()


def test_a_fill_begins_at_the_sum_of_those_before_it() -> None:
    hours = [float(3 + i) for i in range(24)]
    log = eight_fills_a_unit(oil_hours=hours)
    assert ages(log, "u1") == [sum(hours[8:at]) for at in range(8, 16)]
    assert age_now(log) == [sum(hours[8 * unit : 8 * unit + 8]) for unit in range(3)]


def test_the_order_of_rows_does_not_matter() -> None:
    log = eight_fills_a_unit(oil_hours=[float(3 + i) for i in range(24)])
    mixed = log.sample(fraction=1.0, shuffle=True, seed=4)
    assert ages(mixed, "u1") == ages(log, "u1")
    assert age_now(mixed) == age_now(log)


def test_a_drain_at_a_rebuild_is_the_last_of_the_old_part() -> None:
    log = eight_fills_a_unit(service_kind=[*KIND[:3], "rebuild", *KIND[4:15], "rebuild", *KIND[16:]])
    assert ages(log, "u0") == [0, 10, 20, 30, 0, 10, 20, 30]
    assert age_now(log) == [40, 0, 80]
    lives = with_conditions(log).select("unit_key", "part_life").unique(maintain_order=True)
    assert lives.rows() == [("u0", 40.0), ("u1", 80.0), ("u2", 80.0)]


def test_a_drain_without_a_kind_is_no_rebuild() -> None:
    assert ages(eight_fills_a_unit(service_kind=None), "u0") == [10.0 * at for at in range(8)]


def test_a_top_up_is_no_fill() -> None:
    log = eight_fills_a_unit(service_kind=[*KIND[:3], "top-up", *KIND[4:]])
    assert ages(log, "u0") == [0, 10, 20, 30, 40, 50, 60]
    assert age_now(log) == [70, 80, 80]


def test_unknown_hours_count_as_a_usual_fill_and_those_asked_about_only_for_the_age_now() -> None:
    """In the fit an age excuses dirt, so that one that is asked about counts nothing; now it shortens."""
    hours = [12.0, None, 14.0, 13.0, *[13.0] * 20]
    log = eight_fills_a_unit(oil_hours=hours)
    assert usual_fill(log) == 13.0
    assert ages(log, "u0")[:4] == [0, 12, 25, 39]
    asked = log.with_columns(pl.col("oil_hours").is_null().alias("hours_in_question"))
    assert ages(asked, "u0")[:4] == [0, 12, 12, 26]
    assert age_now(asked) == age_now(log)


def test_a_longer_fill_today_changes_no_age_of_its_own() -> None:
    hours = [10.0] * 24
    longer = [*hours[:7], 30.0, *hours[8:]]
    assert ages(eight_fills_a_unit(oil_hours=longer), "u0") == ages(eight_fills_a_unit(oil_hours=hours), "u0")


def test_batches_of_units_give_the_same_as_all_at_once() -> None:
    log = eight_fills_a_unit(oil_hours=[float(3 + i) if i % 5 else None for i in range(24)])
    usual = usual_fill(log)
    in_batches = by_unit_batches(log, lambda batch: with_conditions(batch, usual_hours=usual), piece_rows=3)
    assert in_batches["part_age"].to_list() == with_conditions(log)["part_age"].to_list()


def test_the_column_is_in_lives_of_the_fleets_parts() -> None:
    log = eight_fills_a_unit(service_kind=[*KIND[:2], "rebuild", *KIND[3:]])
    found = describe_channel(log, "debris")
    term = found.terms[-1]
    assert term.kind == "age"
    assert term.scale == np.median([30, 50, 80, 80])
    assert term.largest == 70
    column = found.design[:, -1]
    assert column == pytest.approx((found.rows["part_age"].to_numpy() - found.rows["part_age"].mean()) / term.scale)
    in_minutes = describe_channel(log.with_columns(pl.col("oil_hours") * 60), "debris")
    assert in_minutes.design[:, -1] == pytest.approx(column)


def test_settings_have_the_prior() -> None:
    found = describe_channel(eight_fills_a_unit(), "debris")
    priors = Priors(coefficient_sd=4.0, part_age=0.7, part_age_sd=2.0)
    assert found.column_means(priors)[-1] == 0.7
    assert found.column_scales(priors)[-1] * priors.coefficient_sd == 2.0


def test_a_unit_without_history_begins_at_nought() -> None:
    log = eight_fills_a_unit()
    register = pl.DataFrame({"unit_key": ["new"], "unit_id": ["NEW"]})
    state = fleet_state(log, register, as_of=AS_OF)
    assert dict(state.select("unit_key", "part_age_now").iter_rows())["new"] == 0.0
    assert new_unit_rows(log, state)["part_age_now"].unique().to_list() == [0.0]
