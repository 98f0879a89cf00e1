"""The study as a page of tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tests.calibration.scored_fleet import FleetScore
from tests.calibration.study_cells import DRAINS, LARGE_FLEET, Job
from tests.calibration.summary import Estimate, Line, summarised
from tests.calibration.truths import TRUTHS

Scores = Sequence[tuple[Job, FleetScore]]

HEADS = (
    "fleets",
    "50 %",
    "80 %",
    "90 %",
    "one-sided 90 %",
    "risk",
    "risk kept",
    "wrongly called",
    "fast found",
    "ESS",
    "largest shape",
    "rounds",
    "untrusted",
    "s",
)


def study_text(scores: Scores, facts: str) -> str:
    """Markdown: what was done, the sums over sizes, then every cell, then by drains a unit."""
    large = [item for item in scores if item[0].cell.units == LARGE_FLEET]
    scores = [item for item in scores if item[0].cell.units != LARGE_FLEET]
    parts = [_INTRODUCTION, facts, "\n## In short\n", _in_short(scores)]
    if large:
        parts += [f"\n## {_LARGE_HEADING}\n", f"{_LARGE_NOTE}\n", _in_short(large), "", _by_truth(large)]
    parts += ["\n## Up to 1,000 units, over all sizes\n", _by_truth(scores)]
    for truth, (kind, draw) in TRUTHS.items():
        mine = [item for item in scores if item[0].cell.truth == truth]
        if mine:
            parts += [f"\n## {truth.capitalize()} (model {kind})\n", f"{draw.__doc__}\n", _by_cell(mine)]
    parts += ["\n## By drains a unit (model right, fleets under 1,000 units)\n", _by_drains(scores)]
    return "\n".join(parts) + "\n"


def _in_short(scores: Scores) -> str:
    """What the goals come to: right models pooled, the worst of the wrong ones, and fits not to be trusted."""
    drawn = [score for job, score in scores if job.cell.truth.startswith("prior")]
    wrong = {
        truth: summarised([score for job, score in scores if job.cell.truth == truth])
        for truth in {job.cell.truth for job, _ in scores}
        if TRUTHS[truth][0] == "wrong"
    }
    lines = []
    if drawn:
        line = summarised(drawn)
        covered = ", ".join(_percent(estimate) for estimate in line.coverage)
        lines.append(
            f"* Truth from the priors, {line.fleets} fleets: 50, 80 and 90 % intervals cover {covered}; "
            f"realised risk {_percent(line.risk)} at a nominal 10."
        )
    if wrong:
        worst = max(sorted(wrong), key=lambda truth: wrong[truth].risk[0])
        narrow = min(sorted(wrong), key=lambda truth: wrong[truth].coverage[-1][0])
        lines.append(
            f"* Model wrong: the highest realised risk is {_percent(wrong[worst].risk)} ({worst}), after cap and "
            f"rounding {_percent(wrong[worst].risk_kept)}; 90 % intervals cover least with {narrow}, "
            f"{_percent(wrong[narrow].coverage[-1])}."
        )
    untrusted = sum(not score.trusted for _, score in scores)
    lines.append(f"* Fits that missed a goal of the sampler: {untrusted} of {len(scores):,}.")
    return "\n".join(lines)


def _by_truth(scores: Scores) -> str:
    rows = []
    for truth, (kind, _) in TRUTHS.items():
        for spread in ("wide", "nearly constant"):
            mine = [score for job, score in scores if (job.cell.truth, job.cell.spread) == (truth, spread)]
            if mine:
                rows.append((f"{truth} ({kind})", spread, summarised(mine)))
    return _table(("truth", "hours"), rows)


def _by_cell(scores: Scores) -> str:
    found: dict[tuple[str, int], list[FleetScore]] = {}
    for job, score in sorted(scores, key=lambda item: (item[0].cell.number, item[0].index)):
        found.setdefault((job.cell.spread, job.cell.units), []).append(score)
    return _table(
        ("hours", "units"), [(spread, f"{units:,}", summarised(mine)) for (spread, units), mine in found.items()]
    )


def _by_drains(scores: Scores) -> str:
    rows = []
    for drains in DRAINS:
        for spread in ("wide", "nearly constant"):
            mine = [
                score
                for job, score in scores
                if TRUTHS[job.cell.truth][0] == "right"
                and (job.drains, job.cell.spread) == (drains, spread)
                and job.cell.units < 1000
            ]
            if mine:
                rows.append((str(drains), spread, summarised(mine)))
    return _table(("drains", "hours"), rows)


def _table(first: tuple[str, str], rows: list[tuple[str, str, Line]]) -> str:
    heads = [*first, *HEADS]
    lines = ["| " + " | ".join(heads) + " |", "| --- | --- |" + " ---: |" * len(HEADS)]
    lines += ["| " + " | ".join((one, two, *_numbers(line))) + " |" for one, two, line in rows]
    return "\n".join(lines)


def _numbers(line: Line) -> tuple[str, ...]:
    estimates = (*line.coverage, line.safe, line.risk, line.risk_kept, line.wrong_share, line.found_share)
    return (
        str(line.fleets),
        *(_percent(estimate) for estimate in estimates),
        "none" if math.isnan(line.effective) else f"{line.effective:.0f}",
        "none" if math.isnan(line.shape) else f"{line.shape:.2f}",
        f"{line.rounds:.1f}",
        str(line.untrusted),
        f"{line.seconds:.2f}",
    )


def _percent(estimate: Estimate) -> str:
    value, error = estimate
    if math.isnan(value):
        return "none"
    return f"{100 * value:.1f}" if math.isnan(error) else f"{100 * value:.1f} ± {100 * error:.1f}"


_LARGE_HEADING = f"Fleets of {LARGE_FLEET:,} units: the large path"
_LARGE_NOTE = """By the normal posterior at the mode, 200 draws, so without effective sample size and shape; each
unit's effect is laid out once and moved to first order (`fitting/unit_effects/first_order_draws.py`)."""

_INTRODUCTION = """# Calibration: how far the answers can be trusted

Written by `python -m tests.calibration`; do not edit by hand. Simulated fleets go through the program's own
describing, fitting, deciding and judging, one channel, limit rating 4, accepted risk 10 %, default settings. Fills
run 12 h in the middle; "wide" is a log sd of 0.5 (two fills in three between 7 and 20 h), "nearly constant" one of
0.03.
Drains a unit: 3, 8 and 20 in turn (8 in fleets of 1,000 units).

Columns, in per cent with one Monte-Carlo standard error (fleets are what is independent):

* 50, 80, 90 %: share of units whose true hours at the accepted risk lie inside that posterior interval; one-sided
  90 %: share whose true hours are over the 10 % point.
* risk: true chance of a rating past the limit at the recommended risk interval, before cap and rounding, mean over
  units; risk kept: after the data-range cap and rounding down. Nominal 10.
* wrongly called: units called faster than the fleet whose true hours ratio is over 0.8, of all called; fast found:
  units called among those whose true ratio is at or under 0.8.
* ESS: median effective sample size; largest shape: of the Pareto fit to the weights (goal: at most 0.7); rounds: mean
  number of rounds of proposals; untrusted: fits that missed a goal, which the report then says; s: median seconds of
  a fit on one thread.

Where the truth is drawn from the priors, coverage and risk must be nominal up to the standard error, whatever the
size: that is the check of the whole chain. Under one fixed truth a small fleet's answers lean on the priors.
"""
