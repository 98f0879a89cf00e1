"""Springs that came in while parts wore, and what is said of them: `python -m tests.calibration.springs_study`.

Some five minutes on one thread. Two springs in one channel; wear and the calendar are what may be taken for a spring.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from rich.progress import track

from draincurve.pipeline.judging.springs import CANNOT_TELL, SHEDS_LESS, SHEDS_MORE
from tests.calibration.written_study import Options, write_study
from tests.pipeline.judging.springs.spring_logs import changed_fleet, compared

SLOPE = 2.2


class Cell(NamedTuple):
    """One kind of fleet. switched : units that change to the new spring; own_date : each at its own sixth drain, else
    all at one time; multiplier : true hours of the new spring against the old."""

    units: int
    switched: int
    own_date: bool
    wear: float
    multiplier: float
    fleets: int


CELLS = (
    *(Cell(20, 20, False, wear, 1.0, 40) for wear in (0.0, 0.12, 0.2)),
    *(Cell(20, 10, False, wear, 1.0, 60) for wear in (0.0, 0.12, 0.2)),
    *(Cell(20, 20, True, wear, 1.0, 60) for wear in (0.0, 0.12, 0.2)),
    *(Cell(20, 10, False, wear, 0.7, 60) for wear in (0.0, 0.12, 0.2)),
    *(Cell(20, 10, False, wear, 0.5, 30) for wear in (0.0, 0.12, 0.2)),
)


class Score(NamedTuple):
    """Of one fleet: what was said of the new spring, and whether its 90 % range held the true multiplier."""

    sheds_more: bool
    sheds_less: bool
    separable: bool
    held: bool


def main() -> None:
    """Run the study, print it, and write docs/results/springs.md."""
    write_study(_run, _text, name="springs.md", description=__doc__)


def _run(options: Options) -> list[str]:
    return [
        _row(cell, [_scored(cell, options.seed + 1000 * number + fleet) for fleet in range(cell.fleets)])
        for number, cell in enumerate(track(CELLS, description="fleets"))
    ]


def _scored(cell: Cell, seed: int) -> Score:
    """Simulate a fleet and compare its springs; Stepped is the new one."""
    effect = -SLOPE * float(np.log(cell.multiplier))
    rows = changed_fleet(cell.units, cell.switched, wear=cell.wear, effect=effect, seed=seed, own_date=cell.own_date)
    (pair,) = compared(rows).pairs
    new = pair.spring_type == "Stepped"
    if pair.low is None or pair.high is None:
        assert pair.verdict == CANNOT_TELL
        return Score(False, False, False, False)
    low, high = (pair.low, pair.high) if new else (1.0 / pair.high, 1.0 / pair.low)
    return Score(
        sheds_more=pair.verdict == (SHEDS_MORE if new else SHEDS_LESS),
        sheds_less=pair.verdict == (SHEDS_LESS if new else SHEDS_MORE),
        separable=True,
        held=low <= cell.multiplier <= high,
    )


def _row(cell: Cell, scores: list[Score]) -> str:
    when = "each at its own sixth drain" if cell.own_date else "all in one month"
    separable = sum(score.separable for score in scores)
    what = f"| {cell.switched} of {cell.units} | {when} | {cell.wear:g} | {cell.multiplier:g} | {cell.fleets} "
    called = f"| {sum(score.sheds_more for score in scores)} | {sum(score.sheds_less for score in scores)} "
    held = f"{sum(score.held for score in scores)} of {separable}" if separable else ""
    return f"{what}{called}| {cell.fleets - separable} | {held} |"


def _text(rows: list[str], facts: str) -> str:
    """The study as Markdown."""
    table = "\n".join(rows)
    return f"""# Springs that came in while parts wore

{facts}
Command: `python -m tests.calibration.springs_study`.

Fleets of 20 units with ten drains each, about every two weeks, one channel, slope {SLOPE:g}, sd between units 0.5
(logit). Some units change to a new spring halfway; wear is what each fill adds, on the logit scale. "Hours" is the
true hours multiplier of the new spring. "More" and "less" count fleets that are told that it sheds more or less,
"not separable" those that are told that it cannot be told from the calendar, "range" those of the others whose 90 %
range holds the true multiplier.

| changed | when | wear | hours | fleets | more | less | not separable | range |
| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |
{table}

Before parts had an age and the calendar was a column, 60 to 68 % of the fleets in which all units changed while they
wore were told that an equal spring sheds more.
"""


if __name__ == "__main__":
    main()
