"""Units called where drains come early because the oil looked bad: `python -m tests.calibration.early_drains_study`.

Some three minutes on one thread. The technician sees seepage or a dark sight glass, and drains before the planned
hours; which drains those are is not in the log.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from rich.progress import track

from draincurve.schemas.array_types import Floats
from tests.calibration.oil_study import Cell, scored
from tests.calibration.written_study import Options, write_study

CHECKED_AT = 0.6
"""Share of the planned hours at which the technician looks."""


def at_a_check(reached: Floats, planned: Floats) -> Floats:
    """Drained at the check if the oil is past its limit by then."""
    check = planned + np.log(CHECKED_AT)
    return np.where(reached < check, check, planned)


def soon_after(reached: Floats, planned: Floats) -> Floats:
    """Drained 15 % of the way from the limit to the planned hours."""
    soon = np.log(np.exp(reached) + 0.15 * (np.exp(planned) - np.exp(reached)))
    return np.where(reached < planned, soon, planned)


HOW = {"as planned": None, "early at a check": at_a_check, "soon after the limit": soon_after}
SPREADS = (1.0, 0.6)
DRAINS = (10, 20)


def main() -> None:
    """Run the study, print it, and write docs/results/early_drains.md."""
    write_study(_run, _text, name="early_drains.md", description=__doc__, fleets=24)


def _run(options: Options) -> list[str]:
    rows = []
    for drains, spread, (name, drained_at) in product(DRAINS, SPREADS, HOW.items()):
        cell = Cell(20, drains, 1.0, 1.0, options.fleets, 2, spread, drained_at)
        seeds = [[options.seed, drains, fleet] for fleet in range(cell.fleets)]
        scores = np.array([scored(cell, seed) for seed in track(seeds, description=f"{drains} {name}")])
        rows.append(_row(cell, name, scores))
    return rows


def _row(cell: Cell, name: str, scores: Floats) -> str:
    risk, _, called, wrong, found = scores.mean(axis=0)
    share = wrong / called
    # Of a ratio of two sums over fleets.
    error = np.std(scores[:, 3] - share * scores[:, 2], ddof=1) / np.sqrt(len(scores)) / called
    totals = scores.sum(axis=0)
    return (
        f"| {cell.drains} | {0.66 * cell.spread:.2f} | {name} | {100 * share:.0f} ({100 * error:.0f}) "
        f"| {totals[3]:.0f} of {totals[2]:.0f} | {100 * found / cell.fast:.0f} | {100 * risk:.1f} |"
    )


def _text(rows: list[str], facts: str) -> str:
    """The study as Markdown."""
    table = "\n".join(rows)
    return f"""# Drains that come early because the oil looked bad

{facts}
Command: `python -m tests.calibration.early_drains_study`.

Fleets of 20 units as in the study of the oil's risk (correlation 1, odds ratio 1), two of them at half the hours.
"Early at a check": a drain is brought forward to {CHECKED_AT:g} of its planned hours if the oil is past its limit by
then. "Soon after the limit": every fill is drained 15 % of the way from the limit to its planned hours. The log does
not say which drains these are. "Wrong" are called units whose true hours ratio is over the shop's 0.8, in brackets a
standard error over fleets; "found" are fast units that are called; "risk" is the true chance that the oil is past fit
at the recommended hours (nominal 10 %).

| drains each | sd between units | drains come | wrong, % | wrong | found, % | risk, % |
| --- | --- | --- | --- | --- | --- | --- |
{table}
"""


if __name__ == "__main__":
    main()
