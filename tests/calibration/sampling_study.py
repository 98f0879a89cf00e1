"""Does following the list of what to drain next pay? `python -m tests.calibration.sampling_study`, some minutes.

Pairs of shops with the same truth and the same first drains. For some rounds one drains what the list asks for, the
other the same number of drains at its fixed hours, units in turn; both are refitted after each round. Written to
docs/results/next_samples.md.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from rich.progress import track

from draincurve.pipeline.deciding.next_samples import MOST_SAMPLES, next_samples
from draincurve.pipeline.deciding.oil_curves import OilCurves
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.unit_thresholds import threshold_draws, typical_threshold_draws
from draincurve.pipeline.simulation.fleet_arrays import simulate_arrays
from draincurve.pipeline.simulation.fleet_plan import FleetPlan
from draincurve.schemas.settings import Settings
from tests.calibration.shop_frames import (
    CHANNEL,
    accepted_drains,
    channel_of,
    state_of,
    true_log_hours,
    true_thresholds,
)
from tests.calibration.truths import FILL_HOURS, TRUTHS, Shop

RESULTS = Path(__file__).resolve().parents[2] / "docs" / "results" / "next_samples.md"
ROUNDS = 3
SETTINGS = Settings()
CASES = ((6, 4, "nearly constant"), (6, 4, "wide"), (20, 4, "nearly constant"), (20, 4, "wide"))

Choice = Callable[["Standing"], list[tuple[int, float]]]


@dataclass(frozen=True)
class Standing:
    """A shop after some rounds: its log, its fit, and the true cut of every unit."""

    plan: FleetPlan
    drains: pl.DataFrame
    state: pl.DataFrame
    fit: ChannelFit
    thresholds: np.ndarray
    round: int

    def fleet_log_hours(self) -> np.ndarray:
        """Draws of the mean over units of the typical unit's log hours at the accepted risk."""
        rng = np.random.default_rng(1)
        thresholds = typical_threshold_draws(
            self.fit, self.state, limit=self.plan.limit_rating, priors=SETTINGS.priors, rng=rng
        ).mean(axis=0)
        return (thresholds - np.log(1 / SETTINGS.accepted_risk - 1)) / self.fit.hours_slope


def listed(standing: Standing) -> list[tuple[int, float]]:
    """What the list asks for."""
    rng = np.random.default_rng(standing.round)
    thresholds = threshold_draws(
        standing.fit, standing.state, limit=standing.plan.limit_rating, priors=SETTINGS.priors, rng=rng
    )
    curves = OilCurves({CHANNEL: RiskCurves(thresholds, standing.fit.hours_slope, SETTINGS.link)})
    service = standing.state.select("unit_id", "site", pl.lit(0.0).alias("hours_on_oil"))
    found = next_samples({CHANNEL: standing.fit}, curves, standing.state, service, SETTINGS)
    row = {unit: index for index, unit in enumerate(standing.state["unit_id"])}
    return [(row[sample.unit_id], sample.at_hours) for sample in found]


def fixed(standing: Standing) -> list[tuple[int, float]]:
    """As many drains at the shop's fixed hours, units in turn, with the same scatter as before."""
    rng = np.random.default_rng(standing.round)
    count = min(MOST_SAMPLES, standing.state.height)
    units = (np.arange(count) + standing.round * count) % standing.state.height
    hours = FILL_HOURS * np.exp(standing.plan.hours_log_sd * rng.standard_normal(count))
    return list(zip(units.tolist(), np.round(hours, 1).tolist(), strict=True))


def paired_ratios(shop: Shop, seed: int) -> np.ndarray:
    """Spread and error of the fleet's log interval after each round: (ROUNDS + 1, 2 choices, 2)."""
    begin = np.random.default_rng(seed)
    arrays = simulate_arrays(shop.plan, begin)
    drains = accepted_drains(shop.plan, arrays, bare=shop.bare, raters_logged=shop.raters_logged)
    thresholds = true_thresholds(shop.plan, arrays, state_of(drains, shop.plan))
    truth = float(np.mean(true_log_hours(shop.plan, thresholds + arrays.effects[CHANNEL])))
    found = np.empty((ROUNDS + 1, 2, 2))
    for place, choice in enumerate((listed, fixed)):
        rng = np.random.default_rng([seed, place])
        standing = _standing(shop.plan, drains, thresholds, 0)
        for number in range(ROUNDS + 1):
            hours = standing.fleet_log_hours()
            low, middle, high = np.quantile(hours, (0.05, 0.5, 0.95))
            found[number, place] = high - low, abs(middle - truth)
            if number < ROUNDS:
                more = _drained(standing, choice(standing), rng)
                standing = _standing(shop.plan, pl.concat((standing.drains, more)), thresholds, number + 1)
    return found


def _standing(plan: FleetPlan, drains: pl.DataFrame, thresholds: np.ndarray, number: int) -> Standing:
    fit = fit_channel(describe_channel(drains, CHANNEL), SETTINGS, rng=np.random.default_rng(number))
    assert isinstance(fit, ChannelFit), fit
    return Standing(plan, drains, state_of(drains, plan), fit, thresholds, number)


def _drained(standing: Standing, wanted: list[tuple[int, float]], rng: np.random.Generator) -> pl.DataFrame:
    """Rows of the drains asked for, rated by the truth, on what each unit runs now."""
    item = channel_of(standing.plan)
    rows = []
    for row, hours in wanted:
        eta = (
            item.hours_slope * np.log(hours)
            + item.threshold_of(standing.plan.limit_rating)
            - standing.thresholds[row]
        )
        rating = 1 + int(np.searchsorted(item.thresholds, eta + rng.logistic()))
        mine = standing.drains.filter(pl.col("unit_key") == standing.state["unit_key"][row]).sort("drained_on")
        day = mine["drained_on"][-1] + timedelta(days=1)
        values = {"oil_hours": hours, f"{CHANNEL}_low": rating, f"{CHANNEL}_high": rating, "drained_on": day}
        rows.append(mine.tail(1).with_columns(**{name: pl.lit(value) for name, value in values.items()}))
    return pl.concat(rows).cast(dict(standing.drains.schema))


def _shop(units: int, drains: int, spread: str, rng: np.random.Generator) -> Shop:
    """A usual shop without covariates, so that a drain added is on the same footing as those before."""
    shop = TRUTHS["usual shop"][1](units, drains, spread, rng)
    one = {name: getattr(shop.plan, name)[:1] for name in ("springs", "oils", "surfaces", "riders", "raters")}
    item = replace(shop.plan.channels[0], settle=0.0, run_in=0.0)
    plan = replace(shop.plan, channels=(item,), settle_choices=((0.167, 1.0),), as_of=date(2026, 12, 31), **one)
    return Shop(plan, bare=True)


def main() -> None:
    """Run the study and write its table."""
    parser = argparse.ArgumentParser(prog="python -m tests.calibration.sampling_study", description=__doc__)
    parser.add_argument("--pairs", type=int, default=40)
    parser.add_argument("--seed", type=int, default=20260101)
    parser.add_argument("--out", type=Path, default=RESULTS)
    options = parser.parse_args()
    lines = []
    for number, (units, drains, spread) in enumerate(CASES):
        found = []
        for index in track(range(options.pairs), description=f"{units} units, {spread}"):
            rng = np.random.default_rng([options.seed, number, index])
            found.append(paired_ratios(_shop(units, drains, spread, rng), 1000 * number + index))
        lines += _lines(np.array(found), f"{units} units, {drains} drains each, hours {spread}")
    facts = f"Run on {date.today().isoformat()}, seed {options.seed}, {options.pairs} pairs a case.\n"
    options.out.write_text("\n".join((_INTRODUCTION, facts, *_HEAD, *lines)) + "\n", encoding="utf-8")


def _lines(found: np.ndarray, case: str) -> list[str]:
    """One line a round: geometric mean widths against the start, their ratio, and the errors."""
    logs = np.log(found[:, :, :, 0])
    lines = []
    for number in range(1, ROUNDS + 1):
        shrunk = np.exp((logs[:, number] - logs[:, 0]).mean(axis=0))
        ratio = logs[:, number, 0] - logs[:, number, 1]
        error = ratio.std(ddof=1) / np.sqrt(ratio.size)
        by_list, by_clock = (logs[:, 0] - logs[:, number]).mean(axis=0)
        faster = f"{by_list / by_clock:.1f}" if by_clock > by_list / 20 else "over 20"
        root = np.sqrt((found[:, number, :, 1] ** 2).mean(axis=0))
        lines.append(
            f"| {case} | {number * MOST_SAMPLES} | {shrunk[0]:.2f} | {shrunk[1]:.2f} | "
            f"{np.exp(ratio.mean()):.2f} ± {np.exp(ratio.mean()) * error:.2f} | {faster} | "
            f"{root[0]:.2f} | {root[1]:.2f} |"
        )
    return lines


_INTRODUCTION = """# What to drain next: does following the list pay?

Written by `python -m tests.calibration.sampling_study`; do not edit by hand. Each pair of shops has the same truth
and the same log. One then drains what the list asks for, six units a round, the other the same number of drains at
its fixed hours, units in turn; both are refitted after every round with the default settings. Widths are those of the
90 % range of the fleet's log interval, as a share of the width before (geometric means over pairs); the ratio is list
over fixed with one standard error; "times faster" is the ratio of the mean logs by which the width shrank; errors are
root mean squares of the fleet's median log interval against the truth (0.10 is about 10 % of the hours).
"""
_HEAD = (
    "| shop | drains more | width, list | width, fixed | list / fixed | times faster | error, list | error, fixed |",
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
)


if __name__ == "__main__":
    main()
