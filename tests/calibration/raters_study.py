"""What two ratings of one oil do to intervals: `python -m tests.calibration.raters_study`, some five minutes.

Small fleets of one channel, decided for the eye of TW. KB rates every drain and TW some of the same; the two see the
same oil, so their ratings go together beyond its hours and its unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import polars as pl
from rich.console import Console
from rich.progress import track
from scipy.optimize import brentq
from scipy.special import expit, logit

from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting import ChannelFit, fit_channel, threshold_draws
from draincurve.pipeline.fitting.double_ratings import with_double_ratings
from draincurve.schemas.array_types import Floats
from draincurve.schemas.settings import Settings
from tests.calibration.double_rated import CUTS, LIMIT, SLOPE, WAYS, DoubleRated, double_rated_log
from tests.calibration.written_study import Options, write_study

SETTINGS = replace(Settings(), reference_rater="TW")
RISK = SETTINGS.accepted_risk
SHARES = (0.3, 0.7)

INTRODUCTION = """# What two ratings of one oil add

{facts}
Command: `python -m tests.calibration.raters_study`.

Fleets of 12 units with 8 drains, one rated channel. KB rates every drain, TW some of the same oil; KB rates dirtier
than TW by an amount drawn anew for each fleet (sd 0.8 on the scale of the link, about half a level). The two ratings
of a drain have a correlation of 0.7 beyond hours and unit. TW is the reference rater: hours are recommended, and
true, for the eye of TW.

"KB alone" uses the row that was written first, and nothing of TW. "TW's row first" has TW's rating as the drain's
where there is one. "With pairs" adds what pairs tell of how the two differ, as the program does. "As rows" counts
both ratings as drains of their own.

"Risk" is the true chance that the oil is past fit at the recommended hours (nominal 10 %), with that of the worst
tenth of the fleets; "range" the share of units whose true hours the 90 % range holds, with standard errors in
brackets; "width" its log width against that of "TW's row first".

| rated by both | way | risk, % | worst tenth, % | range, % | width |
| ---: | --- | ---: | ---: | ---: | ---: |
"""


class Score(NamedTuple):
    """Of each unit of a fleet, (U,): true risk at the recommended hours, whether the 90 % range holds, its width."""

    risk: Floats
    held: Floats
    width: Floats


def main() -> None:
    """Run the study, print it, and write docs/results/double_ratings.md."""
    write_study(_run, _text, name="double_ratings.md", description=__doc__, fleets=40)


def _run(options: Options) -> list[str]:
    return [line for share in SHARES for line in _lines(share, options.fleets, options.seed)]


def _text(lines: list[str], facts: str) -> str:
    return INTRODUCTION.format(facts=facts) + "\n".join(lines) + "\n"


def _lines(share: float, fleets: int, seed: int) -> list[str]:
    """A line of the table for each way."""
    scores: dict[str, list[Score]] = {way: [] for way in WAYS}
    for number in track(range(fleets), f"{100 * share:.0f} % rated by both", console=Console(stderr=True)):
        fleet = double_rated_log(np.random.default_rng([seed, number]), share=share)
        for way, fit in _fits(fleet, number).items():
            scores[way].append(_scored(fit, fleet, np.random.default_rng(number)))
    base = np.mean([one.width.mean() for one in scores[WAYS[1]]])
    return [_line(share, way, scores[way], float(base)) for way in WAYS]


def _line(share: float, way: str, scores: list[Score], base: float) -> str:
    risk, held, width = (np.array([part.mean() for part in parts]) for parts in zip(*scores, strict=True))
    risk, held = 100.0 * risk, 100.0 * held
    risk_error, held_error = (part.std(ddof=1) / np.sqrt(part.size) for part in (risk, held))
    return (
        f"| {100 * share:.0f} % | {way} | {risk.mean():.1f} ({risk_error:.1f}) | {np.quantile(risk, 0.9):.0f} | "
        f"{held.mean():.0f} ({held_error:.0f}) | {width.mean() / base:.2f} |"
    )


def _fits(fleet: DoubleRated, seed: int) -> Mapping[str, ChannelFit]:
    """The fit in each of the ways."""
    found = {}
    for way, (drains, second) in fleet.ways().items():
        rated = describe_channel(drains, "debris")
        rated = rated if second is None else rated.with_second(second)
        fit = fit_channel(rated, SETTINGS, rng=np.random.default_rng(seed), effects_later=True)
        assert isinstance(fit, ChannelFit), "every fleet has ratings"
        found[way] = with_double_ratings(fit).with_effects()
    return found


def _scored(fit: ChannelFit, fleet: DoubleRated, rng: np.random.Generator) -> Score:
    """The fit's answers for the eye of TW against the truth."""
    keys = list(fleet.effects)
    state = pl.DataFrame({"unit_key": keys, "rated_by": ["TW"] * len(keys), "part_age": [0.0] * len(keys)})
    draws = threshold_draws(fit, state, limit=LIMIT, priors=SETTINGS.priors, rng=rng)
    true = (CUTS[LIMIT - 2] - np.array([fleet.effects[key] for key in keys]) + logit(RISK)) / SLOPE
    low, high = np.quantile((draws + logit(RISK)) / fit.hours_slope, (0.05, 0.95), axis=1)
    chosen = np.array([_recommended(one, fit.hours_slope) for one in draws])
    return Score(expit(logit(RISK) + SLOPE * (chosen - true)), ((low <= true) & (true <= high)) * 1.0, high - low)


def _recommended(thresholds: Floats, slopes: Floats) -> float:
    """Log hours at which the predicted risk is the accepted one."""
    return float(brentq(lambda at: expit(slopes * at - thresholds).mean() - RISK, -3.0, 8.0))


if __name__ == "__main__":
    main()
