"""What laboratory values add to ratings, and what they harm: `python -m tests.calibration.condition_study`.

Some five minutes on one thread. Each fleet is decided twice, without and with its iron, which goes with the units'
debris by a known correlation.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl
from rich.progress import track

from draincurve.pipeline.deciding.oil_curves import (
    hours_points,
    log_hours_by_draw,
    risk_at,
    risk_interval,
    unit_draws,
)
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.degradation.fitted_quantity import fits_of_series
from draincurve.pipeline.fitting.joint.joint_fit import join_channels
from draincurve.pipeline.fitting.joint.unit_condition import with_conditions_joined
from draincurve.pipeline.judging.standing import fleet_standings, ratio_standings
from draincurve.schemas.array_types import Floats
from draincurve.schemas.next_service_table import FASTER
from draincurve.schemas.settings import Settings
from tests.calibration.oil_study import FAST_RATIO, true_curves
from tests.calibration.written_study import Options, write_study
from tests.pipeline.fitting.joint.joined_channels import SLOPE, UNIT_SD, drains_of, fits_of
from tests.pipeline.fitting.joint.measured_iron import iron_of

SETTINGS = Settings()
FAST = 2
CORRELATION, ODDS_RATIO = 0.7, 3.0


class Cell(NamedTuple):
    """One kind of fleet. iron : correlation of a unit's iron with its debris; readings : of each unit."""

    units: int
    drains: int
    iron: float
    readings: int
    fleets: int


CELLS = tuple(
    Cell(20, drains, iron, readings, 40) for drains, readings in ((5, 1), (5, 3), (10, 3)) for iron in (0.0, 0.5, 0.9)
)


class Score(NamedTuple):
    """Of one fleet: true risk at the recommended hours, share of units whose true hours the 90 % range holds, mean
    log width of that range, units called, of these wrong, and of the fast ones found."""

    risk: float
    held: float
    width: float
    called: float
    wrong: float
    found: float


def main() -> None:
    """Run the study, print it, and write docs/results/condition.md."""
    write_study(_run, _text, name="condition.md", description=__doc__)


def _run(options: Options) -> list[str]:
    return [
        row
        for number, cell in enumerate(track(CELLS, description="fleets"))
        for row in _rows(
            cell, np.array([_scored(cell, [options.seed, number, fleet]) for fleet in range(cell.fleets)])
        )
    ]


def _scored(cell: Cell, seed: list[int]) -> tuple[Score, Score]:
    """Simulate a fleet, and decide without and with its iron."""
    fast = -SLOPE * np.log(FAST_RATIO) / UNIT_SD
    own = int(np.random.SeedSequence(seed).generate_state(1)[0])
    drains = drains_of(cell.units, cell.drains, CORRELATION, ODDS_RATIO, seed=own, fixed=[fast] * FAST)
    series = iron_of(drains, cell.iron, readings=cell.readings, units=cell.units, seed=own)
    rng = np.random.default_rng(seed)
    fits, joint = join_channels(fits_of(drains), SETTINGS.priors, rng=rng)
    wear = (fits_of_series(series, SETTINGS),)
    with_iron, joint_with_iron, _ = with_conditions_joined(fits, joint, (series,), wear, rng=rng)
    return (
        _score(OilFit(fits, joint), drains.effects, cell, seed),
        _score(OilFit(with_iron, joint_with_iron), drains.effects, cell, seed),
    )


def _score(oil: OilFit, effects: Floats, cell: Cell, seed: list[int]) -> Score:
    keys = [f"u{unit:03d}" for unit in range(cell.units)]
    drawn = unit_draws(oil, pl.DataFrame({"unit_key": keys}), SETTINGS, np.random.default_rng(seed))
    low, high = hours_points(drawn.curves, SETTINGS.accepted_risk).T
    truth, typical = true_curves(effects, ODDS_RATIO), true_curves(np.zeros((2, 1)), ODDS_RATIO)
    hours = np.exp(log_hours_by_draw(truth, SETTINGS.accepted_risk)[:, 0])
    of_typical = np.exp(log_hours_by_draw(typical, SETTINGS.accepted_risk)[0, 0])
    rule = SETTINGS.standing
    rated = np.full(cell.units, cell.drains)
    units = ratio_standings(keys, drawn.ratios, channels=drawn.channels, rated=rated, rule=rule)
    called = (fleet_standings(units, rule)["standing"] == FASTER).to_numpy()
    return Score(
        float(risk_at(truth, risk_interval(drawn.curves, SETTINGS.accepted_risk)).mean()),
        float(((low <= hours) & (hours <= high)).mean()),
        float(np.log(high / low).mean()),
        float(called.sum()),
        float((called & (hours / of_typical > rule.ratio)).sum()),
        float(called[:FAST].sum()),
    )


def _rows(cell: Cell, scores: Floats) -> list[str]:
    """Two lines of the table; scores : (fleets, 2, 6), without and with iron."""
    mean, error = scores.mean(axis=0), scores.std(axis=0, ddof=1) / np.sqrt(len(scores))
    total = scores.sum(axis=0)
    narrower = np.exp(np.log(scores[:, 1, 2] / scores[:, 0, 2]).mean())
    lines = []
    for side, name in enumerate(("without", "with")):
        what = f"| {cell.drains} | {cell.readings} | {cell.iron:g} | {name} "
        shares = (
            f"| {100 * mean[side, 0]:.1f} ({100 * error[side, 0]:.1f}) "
            f"| {100 * mean[side, 1]:.0f} ({100 * error[side, 1]:.0f}) "
        )
        width = "1" if side == 0 else f"{narrower:.2f}"
        calls = f"| {total[side, 5]:.0f} of {FAST * cell.fleets} | {total[side, 4]:.0f} of {total[side, 3]:.0f} |"
        lines.append(f"{what}{shares}| {width} {calls}")
    return lines


def _text(rows: list[str], facts: str) -> str:
    """The study as Markdown."""
    table = "\n".join(rows)
    return f"""# What iron adds to ratings

{facts}
Command: `python -m tests.calibration.condition_study`.

Fleets of 20 units, two rated channels, a correlation of a unit's two effects of {CORRELATION:g} and an odds ratio of
a drain's two ratings of {ODDS_RATIO:g}; two units run at half the hours. Each unit has some readings of iron at about
12 h: 40 mg/kg, and 8 mg/kg more for each sd of its effect on iron, with a noise of 2. "Iron" is the true correlation
of that effect with the one on debris. The same fleets are decided without and with their iron.

"Risk" is the true chance that the oil is past fit at the recommended hours (nominal 10 %), "range" the share of units
whose true hours the 90 % range holds, with standard errors in brackets; "width" the log width of that range against
that without iron; "found" counts fast units that are called, "wrong" called units over the shop's 0.8.

| drains each | readings each | iron | iron used | risk, % | range, % | width | found | wrong |
| ---: | ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: |
{table}
"""


if __name__ == "__main__":
    main()
