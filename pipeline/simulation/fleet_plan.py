"""The plan of an invented fleet: units, springs, oils, riders, raters, hours, and departures from the model."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from draincurve.schemas.channels import RATING_LEVELS, channel_names
from draincurve.schemas.columns import SIGNS
from draincurve.schemas.errors import SettingsError

LINKS = ("logit", "probit", "cloglog")


@dataclass(frozen=True, slots=True)
class Level:
    """One spring, oil, rider, surface or site, with its true hours multiplier in each channel, 1 by default.

    With 0.72, oil reaches every rating in 0.72x the hours. `weight` is its share among levels drawn at random.
    """

    name: str
    multipliers: Mapping[str, float] = field(default_factory=dict)
    weight: float = 1.0

    def multiplier(self, channel: str) -> float:
        """Hours multiplier in one channel."""
        return self.multipliers.get(channel, 1.0)


@dataclass(frozen=True, slots=True)
class Rater:
    """One rater, with a bias on the scale of the link in each channel, 0 by default; positive is dirtier."""

    name: str
    biases: Mapping[str, float] = field(default_factory=dict)

    def bias(self, channel: str) -> float:
        """Bias in one channel."""
        return self.biases.get(channel, 0.0)


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """The true model of one channel, over log hours [log h].

    thresholds : four, ascending, of ratings of at least 2, 3, 4, 5
    hours_slope : slope over log hours
    unit_sd : standard deviation between units
    settle : effect of log(1 + settling hours)
    run_in : effect of mean freshness over the fill, mean of exp(-spring hours / 5 h)
    carry_over : effect of -log(1 - share of old oil left at the drain before)
    wear : effect of `fill_hours` on the part, counted from the unit's first row to the start of the fill
    """

    channel: str
    thresholds: tuple[float, ...]
    hours_slope: float = 2.2
    unit_sd: float = 0.6
    settle: float = 0.0
    run_in: float = 0.0
    carry_over: float = 0.0
    wear: float = 0.0

    def threshold_of(self, rating: int) -> float:
        """The threshold at or over which a rating is `rating` or more; the first is that of rating 2."""
        return self.thresholds[rating - 2]


@dataclass(frozen=True, slots=True)
class PlantedUnit:
    """A unit whose true hours ratio is set rather than drawn, in every channel."""

    unit: int
    hours_ratio: float


@dataclass(frozen=True, slots=True)
class PlantedChangepoint:
    """An ordinary unit that changes: from its last few drains on, hours are shorter by the factor `hours_ratio`."""

    unit: int
    last_drains: int
    hours_ratio: float


@dataclass(frozen=True, slots=True)
class UnitSign:
    """A unit whose last drain shows a sign that needs inspection at once."""

    unit: int
    sign: str


@dataclass(frozen=True, slots=True)
class FleetPlan:
    """Everything that determines a fleet.

    Fleet: `units` with drains (the last `shocks` of them are shocks, the others fork legs in pairs, left and right),
    `idle_units` more in the register without a drain, `drains` in total; `uneven` is the coefficient of variation of
    the expected drains of a unit (0: all equal). Hours: log-normal about `fill_hours` with log-sd `hours_log_sd`,
    clipped to `hours_range` [h]; shocks run `shock_hours_factor` times longer. Springs, oils and riders stay with a
    unit and change at a drain with the probabilities given; with `rotation_block` they rotate instead, so that every
    machine has every spring, rider and oil. Departures from the fitted model: `unit_tail_df` (t distributed unit
    effects), `pair_correlation` (of the legs of one machine), raters' biases, `early_drain_share` (of the fills past
    the limit, drained soon after it because the technician felt it), `hours_follow_condition` (log hours decrease
    with the unit's effect in sds), `changed`, `link`, run-in and carry-over of the channels.
    """

    name: str
    units: int
    drains: int
    channels: tuple[ChannelPlan, ...]
    springs: tuple[Level, ...] = (Level("Plain 46"),)
    oils: tuple[Level, ...] = (Level("Fork 5"),)
    riders: tuple[Level, ...] = (Level("Brask"),)
    surfaces: tuple[Level, ...] = (Level("hard"),)
    sites: tuple[Level, ...] = (Level("main bench"),)
    raters: tuple[Rater, ...] = (Rater("KB"),)
    shocks: int = 0
    idle_units: int = 0
    out_of_service: tuple[int, ...] = ()
    shock_spring: str = "Coil 90"
    shock_oil: str = "Shock 3"
    shock_chamber: str = "inner"
    machine_prefix: str = "bike "
    uneven: float = 0.0
    fill_hours: float = 12.0
    hours_log_sd: float = 0.35
    hours_range: tuple[float, float] = (2.0, 60.0)
    shock_hours_factor: float = 1.0
    new_spring_probability: float = 0.1
    spring_swap_probability: float = 0.3
    rider_swap_probability: float = 0.05
    oil_swap_probability: float = 0.0
    rotation_block: int | None = None
    raters_stay_at_site: bool = False
    winter_surface: str | None = None
    settle_choices: tuple[tuple[float, float], ...] = ((0.167, 1.0),)
    fill_ml: float = 520.0
    shock_fill_ml: float = 390.0
    left_behind: float = 0.05
    left_behind_log_sd: float = 0.15
    link: str = "logit"
    limit_rating: int = 4
    accepted_risk: float = 0.10
    standard_settle_hours: float = 0.167
    channel_correlation: float = 0.5
    unit_tail_df: float | None = None
    pair_correlation: float = 0.0
    early_drain_share: float = 0.0
    hours_follow_condition: float = 0.0
    planted: tuple[PlantedUnit, ...] = ()
    changed: tuple[PlantedChangepoint, ...] = ()
    signs: tuple[UnitSign, ...] = ()
    hours_per_week: float = 6.0
    winter_share: float = 0.25
    ride_weekdays: tuple[int, ...] = (2, 5, 6)
    booking_weekdays: tuple[int, ...] = (5, 6)
    booked_share: float = 0.6
    usage_days: int = 0
    last_drain_by: date = date(2026, 6, 15)
    as_of: date = date(2026, 6, 20)
    max_interval_h: float | None = None
    max_oil_days: float | None = None

    def __post_init__(self) -> None:
        for broken, reason in _faults(self):
            if broken:
                raise SettingsError(f"fleet plan {self.name!r}: {reason}")


def _faults(plan: FleetPlan) -> list[tuple[bool, str]]:
    """Every rule a plan must hold, with the sentence for when it does not."""
    levels = (plan.springs, plan.oils, plan.riders, plan.surfaces, plan.sites, plan.raters)
    named_units = [item.unit for group in (plan.planted, plan.changed, plan.signs) for item in group]
    unknown = {item.channel for item in plan.channels}.union(
        *(level.multipliers for group in levels[:-1] for level in group), *(rater.biases for rater in plan.raters)
    ) - set(channel_names())
    return [
        (plan.units < 1, f"{plan.units} units; at least 1 is needed"),
        (plan.drains < plan.units, f"{plan.drains} drains for {plan.units} units; each needs at least one"),
        (not 0 <= plan.shocks <= plan.units, f"{plan.shocks} shocks among {plan.units} units"),
        (plan.link not in LINKS, f"link {plan.link!r}; expected one of {', '.join(LINKS)}"),
        (not plan.channels, f"no channel; give one or more of {', '.join(channel_names())}"),
        (
            bool(unknown),
            f"channel {', '.join(sorted(unknown))} is unknown; channels are {', '.join(channel_names())}",
        ),
        (
            any(not _ascending(item.thresholds) for item in plan.channels),
            "four ascending thresholds are needed",
        ),
        (any(item.hours_slope <= 0 for item in plan.channels), "an hours slope must be above 0"),
        (any(not group for group in levels), "springs, oils, riders, surfaces, sites, raters need one each"),
        (any(unit >= plan.units for unit in named_units), "a planted, turned or signed unit is missing"),
        (any(item.sign not in SIGNS for item in plan.signs), f"a sign is none of {', '.join(SIGNS)}"),
        (plan.unit_tail_df is not None and plan.unit_tail_df <= 2, "unit_tail_df must be above 2"),
        (plan.last_drain_by >= plan.as_of, "the last drain must lie before the as-of date"),
    ]


def _ascending(thresholds: tuple[float, ...]) -> bool:
    """Whether there is one threshold fewer than ratings, each above the one before."""
    pairs = itertools.pairwise(thresholds)
    return len(thresholds) == RATING_LEVELS - 1 and all(low < high for low, high in pairs)
