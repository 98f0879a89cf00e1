"""What a drifting rater does to hours, before and after: `python -m tests.calibration.drift_study`, five minutes.

Small and large fleets of one channel, rated by KB, TW and MO in turn. MO's eye may drift. Answers are for the eye of
KB, on a spring and with a rider that the fleet has.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import polars as pl
from rich.console import Console
from rich.progress import track
from scipy.optimize import brentq
from scipy.special import expit, logit

from draincurve.pipeline.describing.fill_conditions import with_conditions
from draincurve.pipeline.describing.rated_drains import RatedDrains, describe_channel
from draincurve.pipeline.fitting import (
    ChannelFit,
    drifting_raters,
    fit_channel,
    rater_drifts,
    threshold_draws,
    with_drift_columns,
)
from draincurve.pipeline.fitting.channel_fit import fit_sample
from draincurve.schemas.array_types import Floats
from draincurve.schemas.settings import Settings
from tests.calibration.written_study import Options, write_study
from tests.pipeline.judging.watched_fleets import CUTS, SLOPE, FleetOptions, watched_log

SETTINGS = Settings()
RISK, LIMIT, ANSWERS = SETTINGS.accepted_risk, 4, 300
DRIFTS = (0.0, -2.5, 2.5)
AS_RATED, TAKEN_OUT, SHORTER = WAYS = ("as rated", "taken out", "the shorter")

INTRODUCTION = """# What a drifting rater does to hours

{facts}
Command: `python -m tests.calibration.drift_study`.

Fleets of 12 units with 30 drains in 406 days, and {large} a line of 2,100 units with 12 drains in 374, which are
fitted as large ones; one rated channel, no wear. KB, TW and MO rate at random; MO's ratings drift by so much a year
on the scale of the link, where a level is 1.8. Hours are recommended, and true, for the eye of KB, at the age that
parts have at the end of the log, in large fleets for {answers} units. What drift does is the difference from the
lines without.

"As rated" has no drift in the model, as before. "Taken out" has a walk for each rater whose drift is named in that
fleet, and is what counts where the reference rater is known to be steady. "The shorter" of the two counts elsewhere.

"Named" is the share of fleets in which MO, or anybody else, was named. "Off" is the recommended hours against those
at which the true risk is 10 %; "risk" the true chance that the oil is past fit at the recommended hours; standard
errors in brackets.

| units | drift a year | MO named | others named | way | off, % | risk, % |
| ---: | ---: | ---: | ---: | --- | ---: | ---: |
"""


class Size(NamedTuple):
    """A fleet's units, drains of each, and days between them."""

    units: int
    drains: int
    days: int


SMALL, LARGE, LARGE_FLEETS = Size(12, 30, 14), Size(2_100, 12, 34), 4


class Score(NamedTuple):
    """Of a fleet's units, (U,): share by which recommended hours are over the true ones, and the true risk."""

    off: Floats
    risk: Floats


class Fleet(NamedTuple):
    """What came of one fleet: the raters named, and a score for each way."""

    named: tuple[str, ...]
    scores: Mapping[str, Score]


def main() -> None:
    """Run the study, print it, and write docs/results/drift.md."""
    write_study(_run, _text, name="drift.md", description=__doc__, seed=1, fleets=24)


def _run(options: Options) -> list[str]:
    lines: list[str] = []
    for drift in DRIFTS:
        for size, fleets in ((SMALL, options.fleets), (LARGE, LARGE_FLEETS)):
            name = f"drift {drift:g}, {size.units} units"
            seeds = track(range(fleets), name, console=Console(stderr=True))
            found = [_fleet(drift, size, options.seed + 1000 * number) for number in seeds]
            lines += _lines(f"| {size.units:,} | {drift:g}", found)
    return lines


def _text(lines: list[str], facts: str) -> str:
    return INTRODUCTION.format(facts=facts, large=LARGE_FLEETS, answers=ANSWERS) + "\n".join(lines) + "\n"


def _lines(begin: str, fleets: list[Fleet]) -> list[str]:
    mine = 100 * np.mean(["MO" in fleet.named for fleet in fleets])
    others = 100 * np.mean([bool(set(fleet.named) - {"MO"}) for fleet in fleets])
    lines = []
    for way in WAYS:
        means = np.array([[100 * part.mean() for part in fleet.scores[way]] for fleet in fleets])
        error = means.std(axis=0, ddof=1) / np.sqrt(len(fleets))
        cells = " | ".join(f"{mean:.1f} ({one:.1f})" for mean, one in zip(means.mean(axis=0), error, strict=True))
        lines.append(f"{begin} | {mine:.0f} % | {others:.0f} % | {way} | {cells} |")
    return lines


def _fleet(drift: float, size: Size, seed: int) -> Fleet:
    options = FleetOptions(units=size.units, drains=size.drains, days=size.days, drift=(("MO", drift),))
    log = watched_log(options, seed)
    effects = options.spread * np.random.default_rng(seed).standard_normal(size.units)[:ANSWERS]
    drains = describe_channel(log, "debris", compact=size is LARGE)
    steady = _fit(drains, seed)
    # The sample of a plan that is searched for drifts has more units than this fleet.
    searched = steady
    if steady.processing.linear_effects:
        sample = fit_sample(describe_channel(log, "debris"), SETTINGS, rng=np.random.default_rng(seed))
        assert isinstance(sample, ChannelFit), "every fleet has ratings"
        searched = sample
    named = drifting_raters(rater_drifts(searched))
    apart = _fit(with_drift_columns(drains, named), seed) if named else steady
    both = [_answers(fit, log, seed) for fit in (steady, apart)]
    true = (CUTS[LIMIT - 2] - effects + logit(RISK)) / SLOPE
    chosen = {AS_RATED: both[0], TAKEN_OUT: both[1], SHORTER: np.minimum(*both)}
    return Fleet(named, {way: _score(answer, true) for way, answer in chosen.items()})


def _fit(drains: RatedDrains, seed: int) -> ChannelFit:
    found = fit_channel(drains, SETTINGS, rng=np.random.default_rng(seed))
    assert isinstance(found, ChannelFit), "every fleet has ratings"
    return found


def _answers(fit: ChannelFit, log: pl.DataFrame, seed: int) -> Floats:
    """Recommended log hours of the first units, in their order."""
    first = pl.col("unit_key").is_in([f"u{unit:03d}" for unit in range(ANSWERS)])
    now = (
        with_conditions(log.filter(first)).group_by("unit_key").agg((pl.col("part_age") + pl.col("oil_hours")).last())
    )
    state = now.sort("unit_key").with_columns(
        rated_by=pl.lit("KB"), spring_type=pl.lit("Plain 46"), rider=pl.lit("Brask")
    )
    draws = threshold_draws(fit, state, limit=LIMIT, priors=SETTINGS.priors, rng=np.random.default_rng(seed))
    return np.array([_recommended(one, fit.hours_slope) for one in draws])


def _recommended(thresholds: Floats, slopes: Floats) -> float:
    """Log hours at which the predicted risk is the accepted one."""
    return float(brentq(lambda at: expit(slopes * at - thresholds).mean() - RISK, -4.0, 8.0))


def _score(hours: Floats, true: Floats) -> Score:
    off = hours - true
    return Score(np.expm1(off), expit(logit(RISK) + SLOPE * off))


if __name__ == "__main__":
    main()
