"""Due dates against simulated riding: `python -m tests.calibration.dates_study`, a minute or two on one thread."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl
from rich.progress import track

from draincurve.pipeline.deciding.due_dates import due_dates
from draincurve.pipeline.deciding.riding_history import riding_history
from draincurve.pipeline.deciding.riding_rates import known_usage, riding_rates
from draincurve.schemas.array_types import Floats
from tests.calibration.riding_patterns import PATTERNS, UNITS_A_SITE, Ridden, ridden
from tests.calibration.written_study import Options, write_study

HISTORIES = (60, 180, 365)
UNITS = 120
INTERVAL = 20.0


class Score(NamedTuple):
    """Shares of one fleet's units: true date within the range, by the median; and the range's mean width [days]."""

    holds: float
    by_median: float
    width: float


def main() -> None:
    """Run the study, print it, and write docs/results/due_dates.md."""
    write_study(_run, _text, name="due_dates.md", description=__doc__, fleets=40)


def _run(options: Options) -> list[str]:
    cells = [(pattern, history) for pattern in PATTERNS for history in HISTORIES]
    return [
        _row(pattern, history, _scores(pattern, history, fleets=options.fleets, seed=options.seed))
        for pattern, history in track(cells, description="patterns")
    ]


def _scores(pattern: str, history: int, *, fleets: int, seed: int) -> Floats:
    """Scores of so many fleets, (fleets, 3)."""
    number = list(PATTERNS).index(pattern)
    return np.array(
        [
            _scored(ridden(pattern, history, units=UNITS, rng=np.random.default_rng([seed, number, history, fleet])))
            for fleet in range(fleets)
        ]
    )


def _scored(fleet: Ridden) -> Score:
    """The dates that the program gives, against the days of the rides that exceed the hours left."""
    state, days = fleet.state(), known_usage(fleet.usage(), fleet.as_of)
    rates = riding_rates(state, fleet.drains(), days)
    units = state.hstack(rates.drop("unit_key")).with_columns(
        interval_h=pl.lit(INTERVAL),
        hours_on_oil=INTERVAL - pl.Series(fleet.left),
        hours_left=pl.Series(fleet.left),
        oil_days=pl.lit(None, dtype=pl.Float64),
    )
    riding = riding_history(state, days, rates, fleet.as_of, seed=1)
    dates = due_dates(units, _no_events(), riding, fleet.as_of)
    early, due, late = (
        (dates[name] - fleet.as_of).dt.total_days().to_numpy() for name in ("due_on_early", "due_on", "due_on_late")
    )
    holds = (early <= fleet.crossing) & (fleet.crossing <= late)
    return Score(*(float(share.mean()) for share in (holds, fleet.crossing <= due, late - early)))


def _no_events() -> pl.DataFrame:
    schema = {"unit_key": pl.String, "starts_on": pl.Date, "ends_on": pl.Date, "hours": pl.Float64}
    return pl.DataFrame(schema=schema)


def _row(pattern: str, history: int, scores: Floats) -> str:
    mean, error = scores.mean(axis=0), scores.std(axis=0, ddof=1) / np.sqrt(len(scores))
    shares = " | ".join(f"{100 * mean[i]:.1f} ({100 * error[i]:.1f})" for i in range(2))
    return f"| {pattern} | {history} | {shares} | {mean[2]:.1f} |"


def _text(rows: list[str], facts: str) -> str:
    """The study as Markdown."""
    meanings = "\n".join(f"* **{name}**: {what}." for name, what in PATTERNS.items())
    table = "\n".join(rows)
    return f"""# Due dates against simulated riding

{facts}
Command: `python -m tests.calibration.dates_study`.

Each fleet has {UNITS} units on {UNITS // UNITS_A_SITE} sites, is looked at on a random day of the year, and each unit
has between 2 and 14 hours left. The **true date** is the day of the ride that exceeds the hours left.

{meanings}

"Range" is the share of units whose true date is within due_on_early to due_on_late (nominal 80 %), "median" the share
whose true date is due_on or before it (nominal 50 %). In brackets: standard errors over fleets.

| pattern | days of history | range, % | median, % | width of the range, days |
| --- | --- | --- | --- | --- |
{table}
"""


if __name__ == "__main__":
    main()
