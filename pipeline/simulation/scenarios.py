"""Three invented fleets: an enduro team, a trial of springs, a track school. All names are made up."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from draincurve.pipeline.simulation.fleet_plan import (
    ChannelPlan,
    FleetPlan,
    Level,
    PlantedChangepoint,
    PlantedUnit,
    Rater,
    UnitSign,
)
from draincurve.pipeline.simulation.typing_habits import TypingHabits
from draincurve.schemas.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Scenario:
    """A plan, how its log is typed, the kind of its files, the seed of the committed sample, and its settings.

    viscosities : of its new oils at 40 C [mm2/s]; measured values are written where they are given
    sampled_every : drains from one sample of the oil to the next where a laboratory reports them; None: the shop
    measures parts and oil itself
    """

    plan: Callable[[], FleetPlan]
    habits: TypingHabits
    kind: str
    seed: int
    settings: str
    viscosities: tuple[tuple[str, float], ...] = ()
    sampled_every: int | None = None


def curve(
    channel: str,
    hours_at_risk: float,
    *,
    hours_slope: float,
    unit_sd: float,
    settle: float = 0.0,
    run_in: float = 0.0,
) -> ChannelPlan:
    """A channel whose average unit reaches a 10 % probability of rating 4 at `hours_at_risk` [h], logit link.

    The gaps between thresholds are 1.9, 1.8 and 1.7, about what five well-used ratings give.
    """
    limit = hours_slope * math.log(hours_at_risk) + math.log(9) + settle * math.log1p(0.167)
    thresholds = tuple(round(limit + step, 3) for step in (-3.7, -1.8, 0.0, 1.7))
    return ChannelPlan(channel, thresholds, hours_slope, unit_sd, settle, run_in)


def race_team() -> FleetPlan:
    """An enduro team: 12 fork legs, 4 shocks, two benches, 180 drains typed by hand; three clearly fast units."""
    return FleetPlan(
        name="race_team",
        units=16,
        drains=180,
        shocks=4,
        idle_units=1,
        out_of_service=(9,),
        channels=(
            curve("colour", 17.0, hours_slope=2.2, unit_sd=0.45),
            curve("debris", 16.0, hours_slope=2.4, unit_sd=0.5, settle=0.5, run_in=0.8),
        ),
        springs=(Level("Plain 46"), Level("Stepped 46", {"debris": 0.7})),
        oils=(Level("Fork 5", weight=2.0), Level("Fork 7", {"colour": 1.15})),
        riders=(
            Level("Brask", {"colour": 0.9, "debris": 0.9}),
            Level("Ollin"),
            Level("Tevik", {"colour": 1.1, "debris": 1.1}),
        ),
        surfaces=(
            Level("hard", weight=2.0),
            Level("sand", {"debris": 0.9}),
            Level("mud", {"colour": 0.85, "debris": 0.85}),
        ),
        winter_surface="mud",
        sites=(Level("Halmside bench"), Level("race truck")),
        raters=(
            Rater("KB"),
            Rater("TW", {"colour": 0.3, "debris": 0.4}),
            Rater("MO", {"colour": -0.2, "debris": -0.3}),
        ),
        uneven=0.15,
        fill_hours=12.5,
        hours_range=(5.0, 24.0),
        shock_hours_factor=1.2,
        new_spring_probability=0.15,
        spring_swap_probability=0.6,
        rider_swap_probability=0.12,
        oil_swap_probability=0.08,
        settle_choices=((0.167, 0.8), (1.0, 0.15), (12.0, 0.05)),
        planted=(PlantedUnit(3, 0.4), PlantedUnit(6, 0.42), PlantedUnit(13, 0.45)),
        changed=(PlantedChangepoint(10, 4, 0.4),),
        signs=(UnitSign(1, "milky"), UnitSign(7, "leak")),
        hours_per_week=6.0,
        usage_days=28,
        max_interval_h=30.0,
        max_oil_days=180.0,
    )


def spring_trial() -> FleetPlan:
    """Three springs rotated over 12 legs, three riders and two oils: one sheds clearly more, one equals the first."""
    return FleetPlan(
        name="spring_trial",
        units=12,
        drains=150,
        channels=(
            curve("colour", 16.0, hours_slope=2.2, unit_sd=0.4),
            curve("debris", 14.0, hours_slope=2.4, unit_sd=0.45, settle=0.5, run_in=0.5),
        ),
        springs=(Level("Plain 46"), Level("Coated 46"), Level("Stepped 46", {"debris": 0.5})),
        oils=(Level("Fork 5"), Level("Fork 7")),
        riders=(
            Level("Jost"),
            Level("Sunna", {"colour": 0.95, "debris": 0.9}),
            Level("Varn", {"colour": 1.05, "debris": 1.1}),
        ),
        surfaces=(Level("hard"), Level("sand", {"debris": 0.9})),
        raters=(Rater("AL"), Rater("PE", {"colour": 0.2, "debris": 0.2})),
        rotation_block=2,
        fill_hours=13.0,
        hours_log_sd=0.4,
        hours_range=(5.0, 30.0),
        settle_choices=((0.167, 0.9), (1.0, 0.1)),
        hours_per_week=8.0,
        usage_days=21,
    )


def track_school() -> FleetPlan:
    """A track school: 120 units, 1,500 drains, two sites with raters of their own, kept in a workbook."""
    return FleetPlan(
        name="track_school",
        units=120,
        drains=1500,
        shocks=24,
        idle_units=2,
        out_of_service=(17, 64),
        channels=(
            curve("colour", 36.0, hours_slope=2.2, unit_sd=0.5),
            curve("debris", 34.0, hours_slope=2.3, unit_sd=0.5, settle=0.5, run_in=0.6),
        ),
        springs=(Level("Plain 46", weight=2.0), Level("Coated 46"), Level("Stepped 46", {"debris": 0.75})),
        oils=(Level("Fork 5"), Level("Fork 10", {"colour": 1.1})),
        riders=(
            Level("beginners", {"colour": 1.1, "debris": 1.1}, weight=2.0),
            Level("middle group", weight=2.0),
            Level("fast group", {"colour": 0.85, "debris": 0.85}),
            Level("instructors", {"colour": 0.95, "debris": 0.95}),
        ),
        surfaces=(Level("dry track", weight=4.0), Level("wet track", {"colour": 0.9})),
        sites=(Level("Ostrebeck"), Level("Carrow Flats", {"debris": 0.95})),
        raters=(
            Rater("HN"),
            Rater("VS", {"colour": 0.2, "debris": 0.3}),
            Rater("ID", {"colour": -0.2, "debris": -0.2}),
            Rater("EK"),
        ),
        raters_stay_at_site=True,
        uneven=0.25,
        fill_hours=21.0,
        hours_log_sd=0.3,
        hours_range=(8.0, 40.0),
        shock_hours_factor=1.2,
        rider_swap_probability=0.15,
        oil_swap_probability=0.03,
        settle_choices=((0.167, 0.9), (1.0, 0.1)),
        planted=(PlantedUnit(5, 0.4), PlantedUnit(38, 0.42), PlantedUnit(71, 0.45), PlantedUnit(103, 0.42)),
        changed=(PlantedChangepoint(50, 4, 0.4),),
        signs=(UnitSign(20, "leak"), UnitSign(88, "burnt")),
        hours_per_week=9.0,
        winter_share=0.2,
        ride_weekdays=(1, 4, 5, 6),
        max_interval_h=40.0,
        max_oil_days=365.0,
        last_drain_by=date(2026, 6, 15),
    )


SCENARIOS: dict[str, Scenario] = {
    "race_team": Scenario(
        race_team,
        TypingHabits(
            delimiter=";",
            decimal_comma=True,
            day_first=True,
            variant_share=0.08,
            unit_words_share=0.25,
            approximate_share=0.04,
            rating_range_share=0.06,
            blank_rater_share=0.06,
            blank_settle_share=0.12,
            blank_hours_share=0.04,
            bad_rows=True,
            top_ups=2,
            meter_reset=True,
        ),
        "csv",
        20260620,
        """# An invented enduro team's policy.
accepted_risk = 0.10
standard_settle_hours = 0.167   # ten minutes

[limits]
colour_rating = 4
debris_rating = 4

[costs]                         # one oil change on time, and what a late one adds, in one currency
change = 45
late = 320

[wear_limits]                   # of this shop; the maker's would be in [maker_wear_limits]
iron = "60 mg/kg"
""",
        (("Fork 5", 18.2), ("Fork 7", 27.4), ("Shock 3", 12.6)),
    ),
    "spring_trial": Scenario(
        spring_trial,
        TypingHabits(variant_share=0.02, unit_words_share=0.05),
        "csv",
        20260621,
        """# The policy of an invented spring trial: the defaults, written out.
accepted_risk = 0.10
standard_settle_hours = 0.167   # ten minutes
""",
    ),
    "track_school": Scenario(
        track_school,
        TypingHabits(variant_share=0.01, unit_words_share=0.02, blank_rater_share=0.02, blank_settle_share=0.05),
        "xlsx",
        20260622,
        """# An invented track school's policy.
accepted_risk = 0.10
standard_settle_hours = 0.167   # ten minutes
step_h = 1.0

[caps]
max_interval_h = 40
max_oil_days = 365
""",
        (("Fork 5", 18.2), ("Fork 10", 33.5), ("Shock 3", 12.6)),
        sampled_every=10,
    ),
}


def scenario(name: str) -> Scenario:
    """A named scenario; SettingsError lists what is possible."""
    if name not in SCENARIOS:
        raise SettingsError(f"scenario {name!r} is unknown; possible are {', '.join(SCENARIOS)}")
    return SCENARIOS[name]


def resized(plan: FleetPlan, units: int | None, *, drains: int | None) -> FleetPlan:
    """The plan with another number of units or drains; shocks keep their share, drains a unit their number."""
    if units is None and drains is None:
        return plan
    new_units = plan.units if units is None else units
    new_drains = drains if drains is not None else max(new_units, round(plan.drains * new_units / plan.units))
    return replace(
        plan,
        units=new_units,
        drains=new_drains,
        shocks=round(plan.shocks * new_units / plan.units),
        out_of_service=tuple(unit for unit in plan.out_of_service if unit < new_units),
        planted=tuple(item for item in plan.planted if item.unit < new_units),
        changed=tuple(item for item in plan.changed if item.unit < new_units),
        signs=tuple(item for item in plan.signs if item.unit < new_units),
    )
