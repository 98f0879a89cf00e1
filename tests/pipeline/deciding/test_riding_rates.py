from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from fleet_frames import AS_OF, drain, drains_of, register, ridden

from draincurve.pipeline.deciding.riding_rates import RATE_COLUMNS, known_usage, riding_rates
from draincurve.pipeline.describing.fleet_state import fleet_state


def rates(drains, usage=None, units=None) -> dict[str, dict[str, object]]:
    state = fleet_state(drains, units, as_of=AS_OF)
    table = riding_rates(state, drains, known_usage(usage, AS_OF))
    assert tuple(table.columns) == tuple(RATE_COLUMNS)
    assert table["unit_key"].to_list() == state["unit_key"].to_list()
    return {row["unit_key"]: row for row in table.iter_rows(named=True)}


def test_one_unit_has_its_own_rate_over_the_days_of_its_log():
    usage = ridden(*(("u", -offset, 2.0) for offset in range(10)))
    found = rates(drains_of(drain("u", -20)), usage)["u"]
    assert found["hours_per_day"] == pytest.approx(2.0)
    assert found["rate_from"] == "usage"


def test_a_log_of_single_ride_days_counts_the_days_between_them():
    usage = ridden(*(("u", -7 * week, 3.5) for week in range(6)))
    assert rates(drains_of(drain("u", -60)), usage)["u"]["hours_per_day"] == pytest.approx(0.5)


def test_without_usage_the_drains_tell_the_rate():
    found = rates(drains_of(drain("u", -40), drain("u", -30, 10.0), drain("u", -10, 20.0)))["u"]
    assert found["hours_per_day"] == pytest.approx(1.0)
    assert found["rate_from"] == "drains"


def test_a_unit_without_riding_of_its_own_gets_more_than_its_sites_mean_and_another_site_the_fleets():
    usage = ridden(*((unit, -offset, hours) for unit, hours in (("a", 1.0), ("b", 3.0)) for offset in range(20)))
    drains = drains_of(drain("a", -25), drain("b", -25), drain("c", -25), drain("d", -25, site="south"))
    found = rates(drains, usage)
    assert found["c"]["rate_from"] == "site"
    assert found["d"]["rate_from"] == "fleet"
    assert found["c"]["hours_per_day"] > 2.0
    assert found["d"]["hours_per_day"] > 2.0


def test_a_thinly_used_unit_shrinks_to_its_site_more_than_a_well_used_one():
    generator = np.random.default_rng(4)
    rows = [
        (f"u{unit:02}", -offset, float(generator.gamma(2.0, rate / 2.0)))
        for unit, rate in enumerate(np.linspace(0.5, 1.5, 12))
        for offset in range(60)
    ]
    rows += [("thin", -offset, 8.0) for offset in (0, 4)]
    rows += [("thick", -offset, 2.0) for offset in range(60)]
    drains = drains_of(*(drain(unit, -90) for unit in sorted({row[0] for row in rows})))
    found = rates(drains, ridden(*rows))
    mean = np.mean([found[f"u{unit:02}"]["hours_per_day"] for unit in range(12)])
    thin = (found["thin"]["hours_per_day"] - mean) / (2.0 - mean)
    thick = (found["thick"]["hours_per_day"] - mean) / (2.0 - mean)
    assert thick > 0.8
    assert 0.0 < thin < 0.6
    assert found["thin"]["rate_variance"] > found["thick"]["rate_variance"]


def test_the_variance_between_units_is_recovered_on_simulated_fleets():
    """Holds the credibility formulas (written from memory): rates of known spread, shrunk rates nearer the truth."""
    generator = np.random.default_rng(12)
    own_error, shrunk_error, covered = [], [], []
    for _ in range(30):
        true = generator.gamma(9.0, 1.0 / 9.0, 25)
        ridden_on = generator.random((25, 30)) < true[:, None] / 4.0
        hours = np.where(ridden_on, generator.gamma(4.0, 1.0, (25, 30)), 0.0)
        rows = [(f"u{i:02}", -j, float(hours[i, j])) for i in range(25) for j in range(30)]
        drains = drains_of(*(drain(f"u{i:02}", -40) for i in range(25)))
        found = rates(drains, ridden(*rows))
        shrunk = np.array([found[f"u{i:02}"]["hours_per_day"] for i in range(25)])
        spread = np.sqrt([found[f"u{i:02}"]["rate_variance"] for i in range(25)])
        own_error.append(np.mean((hours.mean(axis=1) - true) ** 2))
        shrunk_error.append(np.mean((shrunk - true) ** 2))
        covered.append(np.mean(np.abs(shrunk - true) < 1.645 * spread))
    assert np.mean(shrunk_error) < 0.75 * np.mean(own_error)
    assert 0.8 < np.mean(covered) < 0.98


def test_nothing_known_at_all_is_no_rate():
    found = rates(drains_of(drain("u", -5)))["u"]
    assert found["rate_from"] == "none"
    assert found["hours_per_day"] is None


def test_old_usage_is_left_out_and_the_future_is_not_known():
    usage = ridden(("u", -800, 9.0), ("u", -6, 1.0), ("u", 0, 1.0), ("u", 5, 50.0))
    assert rates(drains_of(drain("u", -900)), usage)["u"]["hours_per_day"] == pytest.approx(2.0 / 12.0)


def test_a_day_without_hours_counts_as_the_longest_known_and_copies_of_a_day_add_up():
    days = known_usage(ridden(("u", -3, None), ("u", -2, 2.0), ("v", -2, 6.0), ("u", -1, 1.0), ("u", -1, 1.5)), AS_OF)
    assert days.filter(pl.col("unit_key") == "u").select("hours", "filled").rows() == [
        (6.0, True),
        (2.0, False),
        (2.5, False),
    ]


def test_a_unit_of_the_register_alone_is_rated_by_the_fleet():
    usage = ridden(*(("u", -offset, 2.0) for offset in range(10)))
    found = rates(drains_of(drain("u", -20)), usage, register({"unit_key": "new", "site": "north"}))
    assert found["new"]["rate_from"] == "site"
