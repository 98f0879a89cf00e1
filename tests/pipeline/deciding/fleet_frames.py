"""Small invented fleets as accepted frames, for the tests of the decide stage."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.next_service import next_service_table, unit_clocks
from draincurve.pipeline.deciding.oil_curves import OilCurves
from draincurve.pipeline.deciding.riding_history import RidingHistory, riding_history
from draincurve.pipeline.deciding.riding_rates import known_usage
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.pipeline.deciding.unit_scoring import decide_units
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.schemas.settings import Settings

AS_OF = date(2026, 6, 1)

DRAIN_SCHEMA = {
    "unit_key": pl.String, "unit_id": pl.String, "drained_on": pl.Date, "oil_hours": pl.Float64,
    "oil_grade": pl.String, "filled_ml": pl.Float64, "drained_ml": pl.Float64,
    "debris_low": pl.Int64, "debris_high": pl.Int64,
    "spring_type": pl.String, "spring_hours": pl.Float64, "rider": pl.String, "surface": pl.String,
    "site": pl.String, "machine": pl.String, "chamber": pl.String, "service_kind": pl.String,
    "milky": pl.Boolean, "burnt": pl.Boolean, "leak": pl.Boolean,
}  # fmt: skip


def day(offset: int) -> date:
    """The day so many days from AS_OF."""
    return AS_OF + timedelta(days=offset)


def drain(unit: str, offset: int, oil_hours: float | None = 12.0, **other: object) -> dict[str, object]:
    row: dict[str, object] = dict.fromkeys(DRAIN_SCHEMA)
    row |= {
        "unit_key": unit, "unit_id": unit.upper(), "drained_on": day(offset), "oil_hours": oil_hours,
        "oil_grade": "amber", "filled_ml": 500.0, "drained_ml": 480.0, "debris_low": 2, "debris_high": 2,
        "spring_type": "steel",
        "rider": "rider a", "site": "north", "service_kind": "oil",
    }  # fmt: skip
    return row | other


def drains_of(*rows: dict[str, object]) -> pl.DataFrame:
    return pl.DataFrame(list(rows), schema=DRAIN_SCHEMA)


def ridden(*rows: tuple[str, int, float | None]) -> pl.DataFrame:
    """Usage or bookings rows: unit, days from AS_OF, hours."""
    return pl.DataFrame(
        [{"unit_key": u, "unit_id": u.upper(), "date": day(d), "hours": h} for u, d, h in rows],
        schema={"unit_key": pl.String, "unit_id": pl.String, "date": pl.Date, "hours": pl.Float64},
    )


def riding_of(units: pl.DataFrame, usage: pl.DataFrame | None = None) -> RidingHistory:
    """Riding of units with the given rates, rows of hours_per_day, rate_variance and day_variance."""
    state = units.select(
        "unit_key", site=pl.lit("north"), machine=pl.lit(None, pl.String), last_drained_on=pl.lit(day(-10))
    )
    rates = units.with_columns(borrowed_days=pl.lit(7.0))
    return riding_history(state, known_usage(usage, AS_OF), rates, AS_OF, seed=3)


def register(*rows: dict[str, object]) -> pl.DataFrame:
    return pl.DataFrame(
        [{"unit_id": str(row["unit_key"]).upper()} | row for row in rows],
        schema_overrides={"max_interval_h": pl.Float64, "max_oil_days": pl.Float64},
        infer_schema_length=None,
    )


def sure_curves(hours: list[float], slope: float = 3.0, draws: int = 50, spread: float = 0.0) -> RiskCurves:
    """Curves whose risk is 0.10 at the given hours (exactly, where the draws do not spread)."""
    cut = slope * np.log(hours)[:, None] + np.log(9.0) + spread * np.linspace(-1, 1, draws)[None, :]
    return RiskCurves(np.broadcast_to(cut, (len(hours), draws)).copy(), np.full(draws, slope), "logit")


def standings_of(state: pl.DataFrame) -> pl.DataFrame:
    return state.select(
        "unit_key",
        hours_ratio=pl.lit(1.0),
        hours_ratio_low=pl.lit(0.8),
        hours_ratio_high=pl.lit(1.3),
        p_faster=pl.lit(0.2),
        standing=pl.lit("with the fleet"),
        turned=pl.lit(False),
    )


def table_of(
    state: pl.DataFrame,
    curves: dict[str, RiskCurves],
    drains: pl.DataFrame,
    usage: pl.DataFrame | None = None,
    bookings: pl.DataFrame | None = None,
    settings: Settings | None = None,
    standings: pl.DataFrame | None = None,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """next_service and its reasons for curves that are at hand; standings, where none are given, with the fleet."""
    settings = settings or Settings()
    clocks = unit_clocks(state, drains, usage, bookings, settings, AS_OF)
    found = decide_units(OilCurves(curves), clocks.caps, clocks.on_oil, settings)
    judged = standings_of(state) if standings is None else standings
    return next_service_table(state, clocks, found, judged, bookings, settings, AS_OF)


def plan(
    drains: pl.DataFrame,
    units: pl.DataFrame | None = None,
    usage: pl.DataFrame | None = None,
    bookings: pl.DataFrame | None = None,
    settings: Settings | None = None,
    risk_hours: float | None = 10.0,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """next_service and its reasons, every unit with the same hours at the accepted risk, in order of unit."""
    state = fleet_state(drains, units, as_of=AS_OF)
    curves = {} if risk_hours is None else {"debris": sure_curves([risk_hours] * state.height)}
    table, why = table_of(state, curves, drains, usage, bookings, settings)
    return table.sort("unit_id"), why.sort("unit_id")
