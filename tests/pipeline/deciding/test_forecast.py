"""Services, rebuilds and oil ahead: certain riding to the count, uncertain riding to its law, unknowns said."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from fleet_frames import AS_OF, day, drain, drains_of, plan, register, ridden, riding_of
from scipy.stats import invgauss

from draincurve.pipeline.deciding.forecast import _range, forecast, simulated_services
from draincurve.pipeline.deciding.forecast_fleet import ForecastFleet, ForecastTables
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.schemas.errors import ContractError
from draincurve.schemas.forecast_table import checked_forecast, empty_forecast
from draincurve.schemas.settings import Caps, Settings


def ahead(drains, units=None, usage=None, bookings=None, settings=None, risk_hours=10.0, weeks=8):
    """The forecast of a small fleet whose units all have the same interval [h]."""
    settings = settings or Settings()
    table, _ = plan(drains, units, usage, bookings, settings, risk_hours)
    state = fleet_state(drains, units, as_of=AS_OF)
    tables = ForecastTables(drains, units, usage, bookings)
    return forecast(state, table, tables, settings, AS_OF, np.random.default_rng(1), weeks)


def rows(result, item, grade=None):
    """(expected, low, high) of the weeks, then of all weeks."""
    table = result.table.filter(pl.col("item") == item)
    if grade is not None:
        table = table.filter(pl.col("oil_grade") == grade)
    return table.select("expected", "low", "high").rows()


def one(units=1, **changed):
    """A fleet of units alike, whose riding is certain unless it is said otherwise."""
    plain = {
        "hours": 0.0, "interval": 10.0, "age": 0.0, "oil_days": np.inf, "rate": 1.0, "rate_variance": 0.0,
        "dispersion": 0.0, "booked": [0.0] * 8, "fill_l": 0.5,
    } | changed  # fmt: skip
    rate, doubt, lump = (plain.pop(name) for name in ("rate", "rate_variance", "dispersion"))
    rates = pl.DataFrame({"unit_key": [f"u{i}" for i in range(units)]}).with_columns(
        hours_per_day=pl.lit(rate), rate_variance=pl.lit(doubt), day_variance=pl.lit(lump * rate)
    )
    arrays = {name: np.array([value] * units, dtype=float) for name, value in plain.items()}
    begin, grade = np.zeros(units, dtype=np.int64), np.zeros(units, dtype=np.int64)
    return ForecastFleet(**arrays, riding=riding_of(rates), begin=begin, grade=grade, grades=("amber",))


def counts(fleet, draws=3):
    services, litres = simulated_services(fleet, draws, 8)
    assert np.allclose(litres[:, :, 0], 0.5 * services)
    return services


def test_certain_riding_is_counted_out():
    """7 h a week on an interval of 10 h: hours 7 14 21 28 35 42 49 56, so services at 10, 20 ... 50."""
    assert counts(one())[0].tolist() == [0, 1, 1, 0, 1, 1, 0, 1]
    assert counts(one(rate=5.0))[0].sum() == 28
    assert counts(one(rate=0.0))[0].sum() == 0


@pytest.mark.parametrize(
    "changed",
    [{"hours": 10.0}, {"hours": 25.0}, {"hours": np.nan}, {"age": np.nan, "oil_days": 90.0}, {"interval": 0.0}],
)
def test_what_is_due_now_or_unknown_is_done_in_the_first_week(changed):
    assert counts(one(**({"rate": 0.0} | changed)))[0].tolist() == [1, 0, 0, 0, 0, 0, 0, 0]


def test_an_event_that_does_not_fit_is_served_before_it():
    """8 h on the oil and 4 h booked: the service comes first, and the event counts in full on the new oil."""
    booked = [4.0, 0.0, 7.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert counts(one(hours=8.0, rate=0.0, booked=booked))[0].tolist() == [1, 0, 1, 0, 0, 0, 0, 0]
    assert counts(one(hours=6.0, rate=0.0, booked=[4.0] + [0.0] * 7))[0].tolist() == [1] + [0] * 7, "10 of 10 h used"


def test_old_oil_is_changed_unridden():
    assert counts(one(rate=0.0, age=10.0, oil_days=20.0))[0].tolist() == [0, 1, 0, 0, 1, 0, 0, 1]


def test_first_service_follows_the_first_passage_of_the_walk():
    """Against the inverse Gaussian: a walk of the same mean and variance, so nearly the same law."""
    fleet = one(interval=1000.0, hours=980.0, rate=0.8, rate_variance=0.01, dispersion=2.0)
    services = counts(fleet, draws=20_000)
    done = np.cumsum(services, axis=1) > 0
    hours, drift = np.array([20.0]), np.array([0.8])
    variance = 1.6 + 0.01 * hours / drift
    shape = hours**2 / variance
    for week in range(1, 8):
        passed = invgauss.cdf(7.0 * (week + 1), hours / drift / shape, scale=shape)[0]
        assert done[:, week].mean() == pytest.approx(passed, abs=0.05)


def test_a_fleet_from_its_tables():
    drains = drains_of(
        drain("a", -5), drain("b", -5, oil_grade="blue", filled_ml=None), drain("b", -30, oil_grade="blue")
    )
    units = register({"unit_key": "a", "fill_ml": 520.0}, {"unit_key": "b", "fill_ml": None})
    bookings = ridden(*[(unit, 7 * week, 5.0) for unit in "ab" for week in range(1, 9)])
    usage = ridden(("a", -5, 0.0), ("b", -5, 0.0), ("a", 0, 0.0), ("b", 0, 0.0))
    result = ahead(drains, units, usage, bookings)
    assert (result.units, result.weeks) == (2, 8)
    services = rows(result, "services")
    assert len(services) == 9
    assert services[8][0] == pytest.approx(sum(row[0] for row in services[:8]))
    amber, blue = rows(result, "oil", "amber")[8][0], rows(result, "oil", "blue")[8][0]
    assert amber / 0.52 == pytest.approx(blue / 0.5), "the register's fill, else the log's usual"
    assert rows(result, "rebuilds") == []
    assert any("no rebuild" in sentence for sentence in result.sentences)
    spans = result.table.select("week_from", "week_to").unique(maintain_order=True).rows()
    assert spans[0] == (AS_OF, day(6))
    assert spans[-1] == (AS_OF, day(55))


def test_rebuilds_come_at_the_logs_rate():
    drains = drains_of(
        *[drain("a", -10 * at, service_kind="rebuild" if at % 3 == 0 else "oil") for at in range(1, 31)]
    )
    bookings = ridden(*[("a", 7 * week + 1, 9.0) for week in range(8)])
    result = ahead(drains, bookings=bookings)
    services, rebuilds = rows(result, "services")[8], rows(result, "rebuilds")[8]
    assert rebuilds[0] == pytest.approx(services[0] / 3, rel=0.1)
    assert rebuilds[1] < rebuilds[0] < rebuilds[2]
    assert any("10 of 30 services" in sentence for sentence in result.sentences)


def test_what_is_not_known_is_counted_and_said():
    drains = drains_of(drain("a", -5, filled_ml=None, oil_grade=None), drain("b", -9), drain("b", -30))
    result = ahead(
        drains,
        register({"unit_key": "c", "spring_type": "steel"}),
        risk_hours=None,
        settings=Settings(caps=Caps(None, 30)),
    )
    said = " ".join(result.sentences)
    assert "2 units without a known fill" in said
    assert "with oil of unknown hours: counted as due now" in said
    assert rows(result, "services")[0][0] >= 1.0


def test_a_large_fleets_range_is_that_of_a_normal_sum():
    """Few draws of a sum over many units: 20 of them give nearly the points that 2,000 do."""
    large = one(400, rate_variance=0.04, dispersion=2.0)
    few, many = (_range(simulated_services(large, draws, 8)[0].sum(axis=1)) for draws in (20, 2000))
    assert few == pytest.approx(many, rel=0.02)
    assert _range(np.zeros(20)) == (0.0, 0.0)


def test_no_units_no_forecast():
    result = ahead(drains_of())
    assert result.table.equals(empty_forecast())
    assert result.sentences == ()


def test_the_same_seed_gives_the_same_forecast():
    drains = drains_of(drain("a", -5), drain("a", -30), drain("a", -44))
    assert ahead(drains).table.equals(ahead(drains).table)


def test_the_table_is_held_to_its_rules():
    good = {
        "week_from": date(2026, 6, 1), "week_to": date(2026, 6, 7), "item": "oil", "oil_grade": "amber", "unit": "l",
        "expected": 1.0, "low": 0.5, "high": 2.0,
    }  # fmt: skip
    schema = empty_forecast().schema
    assert checked_forecast(pl.DataFrame([good], schema=schema)).height == 1
    for change, said in (
        ({"low": 3.0}, "low is not over high"),
        ({"week_to": good["week_from"] - timedelta(days=1)}, "begins before it ends"),
        ({"oil_grade": None}, "oil names its grade"),
        ({"item": "beer"}, "item"),
        ({"expected": -1.0}, "expected"),
        ({"high": float("nan")}, "NaN"),
    ):
        with pytest.raises(ContractError, match=said):
            checked_forecast(pl.DataFrame([good | change], schema=schema))
    with pytest.raises(ContractError, match="appears twice"):
        checked_forecast(pl.DataFrame([good, good], schema=schema))
