"""True curves for the study: drawn from the priors, a usual shop, and shops that break the model."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan, Level, Rater
from draincurve.pipeline.simulation.scenarios import curve
from draincurve.schemas.settings import Priors
from tests.calibration.shop_frames import CHANNEL

SPREADS = {"wide": 0.5, "nearly constant": 0.03}
"""Standard deviation of log hours of a fill."""

FILL_HOURS = 12.0


@dataclass(frozen=True)
class Shop:
    """A plan with what the log of it leaves out."""

    plan: FleetPlan
    bare: bool = False
    raters_logged: bool = True
    two_ratings: tuple[int, int] | None = None


def prior_bare(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Everything drawn from the priors; hours, units and the age of parts are all there is."""
    return Shop(_plan(units, drains, spread, _prior_curve(rng, Priors(), drains)), bare=True)


def prior_full(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Everything from the priors: springs, oils, riders, raters, surfaces, settling, run-in, carry-over, wear."""
    priors = Priors()
    item = _prior_curve(rng, priors, drains)
    settle, run_in, carry_over = rng.standard_normal(3) * priors.coefficient_sd
    item = replace(item, settle=float(settle), run_in=float(run_in), carry_over=float(carry_over))

    def contrast(names: str) -> tuple[Level, ...]:
        count = len(names.split())
        effects = _sum_to_zero(rng, count) * priors.coefficient_sd * np.sqrt(count / (count - 1))
        return _levels(names, effects, item.hours_slope)

    riders = _sum_to_zero(rng, 3) * abs(rng.standard_normal()) * priors.pooled_sd
    biases = _sum_to_zero(rng, 3) * abs(rng.standard_normal()) * priors.pooled_sd
    plan = replace(
        _plan(units, drains, spread, item),
        springs=contrast("s1 s2"),
        oils=contrast("o1 o2"),
        surfaces=contrast("t1 t2"),
        riders=_levels("r1 r2 r3", riders, item.hours_slope),
        raters=tuple(Rater(f"k{i}", {"debris": float(bias)}) for i, bias in enumerate(biases)),
        settle_choices=((0.167, 0.8), (1.0, 0.1), (12.0, 0.1)),
        **_CHANGES,
    )
    return Shop(plan)


def usual(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """A usual shop: the limit at a tenth of the risk is near the usual fill, units differ by a quarter."""
    item = curve(
        CHANNEL,
        FILL_HOURS * float(np.exp(0.3 * rng.standard_normal())),
        hours_slope=2.2,
        unit_sd=0.55,
        settle=0.5,
        run_in=0.6,
    )
    plan = replace(
        _plan(units, drains, spread, item),
        springs=(Level("s1"), Level("s2", {"debris": 0.75})),
        oils=(Level("o1"), Level("o2", {"debris": 1.1})),
        surfaces=(Level("t1"), Level("t2", {"debris": 0.9})),
        riders=(Level("r1", {"debris": 0.9}), Level("r2"), Level("r3", {"debris": 1.1})),
        raters=(Rater("k0"), Rater("k1", {"debris": 0.3}), Rater("k2", {"debris": -0.2})),
        settle_choices=((0.167, 0.9), (1.0, 0.1)),
        **_CHANGES,
    )
    return Shop(plan)


def steep(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Slope 6, over the prior's 98 % point."""
    return _bent(usual(units, drains, spread, rng), hours_slope=6.0)


def flat(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Slope 0.7, under the prior's 2 % point: hours say little."""
    return _bent(usual(units, drains, spread, rng), hours_slope=0.7)


def heavy_tails(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Unit effects from a t with 3 degrees of freedom and an sd of 1."""
    shop = _bent(usual(units, drains, spread, rng), unit_sd=1.0)
    return replace(shop, plan=replace(shop.plan, unit_tail_df=3.0))


def very_different_units(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Units differ by an sd of 2.5 on the logit scale: twice the hours, or half, is common."""
    return _bent(usual(units, drains, spread, rng), unit_sd=2.5)


def weibull(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Hours to a rating are Weibull; the fit takes them for log-logistic."""
    return _linked(usual(units, drains, spread, rng), "cloglog", -2.2503673)


def log_normal(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Hours to a rating are log-normal; the fit takes them for log-logistic."""
    return _linked(usual(units, drains, spread, rng), "probit", -1.2815516)


def harsh_rater(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """One of three raters is a level harsher (2 on the logit scale), and the log says who rated."""
    shop = usual(units, drains, spread, rng)
    return replace(shop, plan=replace(shop.plan, raters=(*shop.plan.raters[:2], Rater("k2", {"debris": 2.0}))))


def unlogged_rater(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """The same harsh rater, and the log does not say who rated."""
    return replace(harsh_rater(units, drains, spread, rng), raters_logged=False)


def felt(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Half of the fills whose oil went past the limit were drained soon after, since the technician felt it."""
    shop = usual(units, drains, spread, rng)
    return replace(shop, plan=replace(shop.plan, early_drain_share=0.5))


def bad_units_come_early(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Interval confounded with condition: a unit one sd dirtier is planned at 0.74x the hours."""
    shop = usual(units, drains, spread, rng)
    return replace(shop, plan=replace(shop.plan, hours_follow_condition=0.3))


def worn(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Oil gets dirty sooner as a part wears: each fill adds 0.12 on the logit scale, so 2.4 over twenty."""
    return _worn(usual(units, drains, spread, rng), 0.12)


def worn_fast(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """Each fill adds 0.2 on the logit scale."""
    return _worn(usual(units, drains, spread, rng), 0.2)


def clean_or_flakes(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """The shop writes 1 for all oil under the limit and 4 for all past it."""
    return replace(usual(units, drains, spread, rng), two_ratings=(1, 4))


def fair_or_flakes(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """The shop writes 2 for all oil under the limit and 4 for all past it."""
    return replace(usual(units, drains, spread, rng), two_ratings=(2, 4))


Draw = Callable[[int, int, str, np.random.Generator], Shop]

TRUTHS: dict[str, tuple[str, Draw]] = {
    "prior, hours and units": ("right", prior_bare),
    "prior, all columns": ("right", prior_full),
    "usual shop": ("right", usual),
    "slope 6": ("wrong", steep),
    "slope 0.7": ("wrong", flat),
    "heavy-tailed units": ("wrong", heavy_tails),
    "units very different": ("wrong", very_different_units),
    "Weibull hours": ("wrong", weibull),
    "log-normal hours": ("wrong", log_normal),
    "harsh rater, logged": ("wrong", harsh_rater),
    "harsh rater, not logged": ("wrong", unlogged_rater),
    "drained when felt": ("wrong", felt),
    "bad units drained early": ("wrong", bad_units_come_early),
    "parts wear by 0.12 a fill": ("right", worn),
    "parts wear by 0.2 a fill": ("right", worn_fast),
    "ratings 1 and 4 only": ("right", clean_or_flakes),
    "ratings 2 and 4 only": ("right", fair_or_flakes),
}

_CHANGES = {
    "rider_swap_probability": 0.15,
    "spring_swap_probability": 0.6,
    "new_spring_probability": 0.2,
    "oil_swap_probability": 0.1,
}


def _plan(units: int, drains: int, spread: str, item: ChannelPlan) -> FleetPlan:
    log_sd = SPREADS[spread]
    return FleetPlan(
        "study",
        units,
        units * drains,
        (item,),
        fill_hours=FILL_HOURS,
        hours_log_sd=log_sd,
        hours_range=(FILL_HOURS * float(np.exp(-4 * log_sd)), FILL_HOURS * float(np.exp(4 * log_sd))),
    )


def _prior_curve(rng: np.random.Generator, priors: Priors, drains: int) -> ChannelPlan:
    """Thresholds, slope, spread and wear from the priors; the first threshold is at the log's mean log hours.

    The prior of the wear is that over a part's median life, here the `drains` of a unit.
    """
    slope = float(np.exp(np.log(priors.hours_slope) + priors.hours_slope_log_sd * rng.standard_normal()))
    gaps = np.exp(np.log(priors.gap) + priors.gap_log_sd * rng.standard_normal(3))
    first = priors.first_threshold_sd * rng.standard_normal() + slope * np.log(FILL_HOURS)
    thresholds = tuple(itertools.accumulate((float(first), *map(float, gaps))))
    unit_sd = max(priors.unit_sd * abs(float(rng.standard_normal())), 1e-6)
    wear = (priors.part_age + priors.part_age_sd * float(rng.standard_normal())) / drains
    return ChannelPlan(CHANNEL, thresholds, slope, unit_sd, wear=wear)


def _sum_to_zero(rng: np.random.Generator, count: int) -> np.ndarray:
    """Standard normal in every direction of the levels that sum to zero."""
    effects = rng.standard_normal(count)
    return effects - effects.mean()


def _worn(shop: Shop, wear: float) -> Shop:
    """The same shop, whose parts wear by so much a fill."""
    return replace(shop, plan=replace(shop.plan, channels=(replace(shop.plan.channels[0], wear=wear),)))


def _levels(names: str, effects: np.ndarray, slope: float) -> tuple[Level, ...]:
    return tuple(
        Level(name, {"debris": float(np.exp(-effect / slope))})
        for name, effect in zip(names.split(), effects, strict=True)
    )


def _bent(shop: Shop, hours_slope: float | None = None, unit_sd: float | None = None) -> Shop:
    """Another slope through the same hours at the accepted risk, or another spread between units."""
    item = shop.plan.channels[0]
    slope = item.hours_slope if hours_slope is None else hours_slope
    at = np.log(np.exp((item.thresholds[2] - np.log(9.0)) / item.hours_slope))
    shift = (slope - item.hours_slope) * float(at)
    thresholds = tuple(value + shift for value in item.thresholds)
    bent = replace(
        item, thresholds=thresholds, hours_slope=slope, unit_sd=item.unit_sd if unit_sd is None else unit_sd
    )
    return replace(shop, plan=replace(shop.plan, channels=(bent,)))


def _linked(shop: Shop, link: str, at_tenth: float) -> Shop:
    """Another link, scaled to the same spread of hours, through the same hours at a tenth of the risk."""
    scale = {"cloglog": 1 / np.sqrt(2.0), "probit": np.sqrt(3.0) / np.pi}[link]
    item = shop.plan.channels[0]
    limit = scale * (item.thresholds[2] - np.log(9.0)) - at_tenth
    thresholds = tuple(float(limit + scale * (value - item.thresholds[2])) for value in item.thresholds)
    linked = replace(
        item,
        thresholds=thresholds,
        hours_slope=item.hours_slope * scale,
        unit_sd=item.unit_sd * scale,
        settle=item.settle * scale,
        run_in=item.run_in * scale,
    )
    return replace(shop, plan=replace(shop.plan, channels=(linked,), link=link))
