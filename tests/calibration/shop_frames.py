"""From simulated arrays to accepted frames, and the true limit of each unit on the basis the program predicts for."""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.describing.fill_conditions import state_conditions
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.pipeline.fitting.links import link_named
from draincurve.pipeline.simulation.fleet_arrays import FleetArrays, level_effects
from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan
from draincurve.pipeline.simulation.rating_process import link_quantile
from draincurve.schemas.array_types import Floats

CHANNEL = "debris"
_EPOCH = 719163  # ordinal day of 1970-01-01


def accepted_drains(
    plan: FleetPlan,
    arrays: FleetArrays,
    *,
    bare: bool,
    raters_logged: bool,
    two_ratings: tuple[int, int] | None = None,
) -> pl.DataFrame:
    """The drains as they leave validation, one channel rated.

    bare : without spring hours and volumes, so that hours and units are all that the fit sees. two_ratings : what
    the shop writes for oil under the limit and for oil past it, where it writes no other ratings.
    """
    keys = np.array([f"f{number:05d}" for number in range(plan.units)])
    names = {
        "spring_type": (plan.springs, arrays.spring),
        "oil_grade": (plan.oils, arrays.oil),
        "rider": (plan.riders, arrays.rider),
        "surface": (plan.surfaces, arrays.surface),
        "site": (plan.sites, arrays.site),
        "rated_by": (plan.raters, arrays.rater),
    }
    rows = arrays.unit.size
    ratings = arrays.ratings[CHANNEL]
    if two_ratings is not None:
        ratings = np.where(ratings >= plan.limit_rating, two_ratings[1], two_ratings[0])
    frame = pl.DataFrame(
        {
            "line": np.arange(2, rows + 2),
            "unit_key": keys[arrays.unit],
            "unit_id": keys[arrays.unit],
            "drained_on": pl.Series((arrays.day - _EPOCH).astype(np.int32)).cast(pl.Date),
            "oil_hours": arrays.oil_hours,
            "settle_hours": arrays.settle_hours,
            "spring_hours": arrays.spring_hours,
            "filled_ml": arrays.filled_ml,
            "drained_ml": arrays.drained_ml,
            f"{CHANNEL}_low": ratings,
            f"{CHANNEL}_high": ratings,
            **{
                column: np.array([level.name for level in levels])[index] for column, (levels, index) in names.items()
            },
        }
    ).with_columns(
        *(pl.lit(None, dtype=pl.String).alias(name) for name in ("machine", "chamber")),
        *(pl.lit(None, dtype=pl.Boolean).alias(name) for name in ("milky", "burnt", "leak")),
        pl.lit("oil").alias("service_kind"),
    )
    if not raters_logged:
        frame = frame.with_columns(pl.lit(None, dtype=pl.String).alias("rated_by"))
    if bare:
        frame = frame.with_columns(
            pl.lit(None, dtype=pl.Float64).alias(name) for name in ("spring_hours", "filled_ml", "drained_ml")
        )
    return frame


def state_of(drains: pl.DataFrame, plan: FleetPlan) -> pl.DataFrame:
    """Every unit as it stands after its last drain, with the conditions of the fill that runs now."""
    return state_conditions(
        fleet_state(drains, None, as_of=plan.as_of),
        plan.standard_settle_hours,
        usual_hours=float(np.median(drains["oil_hours"])),
    )


def true_thresholds(plan: FleetPlan, arrays: FleetArrays, state: pl.DataFrame) -> Floats:
    """True cut of the limit of every unit under its own conditions, average rater, (units,)."""
    item = channel_of(plan)
    added = arrays.effects[CHANNEL] + np.mean([rater.bias(CHANNEL) for rater in plan.raters])
    terms = {
        "spring_type": plan.springs,
        "oil_grade": plan.oils,
        "rider": plan.riders,
        "surface": plan.surfaces,
        "site": plan.sites,
    }
    for column, levels in terms.items():
        effect = dict(zip([level.name for level in levels], level_effects(levels, item), strict=True))
        added = added + np.array([effect[name] for name in state[column]])
    for column, coefficient in (
        ("settling", item.settle),
        ("freshness", item.run_in),
        ("carry_over", item.carry_over),
        ("part_age_now", item.wear / plan.fill_hours),
    ):
        if coefficient:
            added = added + coefficient * state[column].to_numpy()
    return item.threshold_of(plan.limit_rating) - added


def true_risk(plan: FleetPlan, thresholds: Floats, hours: Floats) -> Floats:
    """True chance of a rating at or over the limit at each unit's hours [h]."""
    at = channel_of(plan).hours_slope * np.log(np.maximum(hours, 1e-9))
    return link_named(plan.link).survival(thresholds - at)


def true_log_hours(plan: FleetPlan, thresholds: Floats) -> Floats:
    """True log hours at the accepted risk, (units,)."""
    return (thresholds + link_quantile(plan.link, plan.accepted_risk)) / channel_of(plan).hours_slope


def channel_of(plan: FleetPlan) -> ChannelPlan:
    """The one channel of a study's plan."""
    return plan.channels[0]
