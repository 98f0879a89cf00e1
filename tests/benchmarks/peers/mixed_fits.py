"""Fits with a unit effect side by side on the same rows, log likelihoods beside the times.

    python -m tests.benchmarks.peers.mixed_fits [small | middle | large ...]

Without a size it takes all of them, which is a quarter of an hour.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

from draincurve.pipeline.processing import ONE_THREAD_DRAINS
from tests.benchmarks.chapter import Chapter, in_short
from tests.benchmarks.peers.fit_table import Group, fit_table, judged_group, short_lines
from tests.benchmarks.peers.our_fits import (
    our_posterior,
    ours,
    ours_on_one_thread,
    ours_without_units,
    statsmodels_without_units,
)
from tests.benchmarks.peers.peer_fit import ENOUGH_SECONDS, MOST_TIMES, LeftOut, PeerFit, RatedRows, rated_rows
from tests.benchmarks.peers.rivals import BAMBI, CLMM_LAPLACE, CLMM_NODES, INTERLACE, Rival, fit_of

COLUMNS = 6
TRUE_SPREAD = 0.8


@dataclass(frozen=True)
class Size:
    """Rows to compare on, who is asked, and the limit of a rival's process [s]."""

    name: str
    drains: int
    units: int
    rivals: tuple[Rival, ...]
    limit: float


SMALL = Size("small", 600, 40, (CLMM_LAPLACE, CLMM_NODES, INTERLACE, BAMBI), 600.0)
MIDDLE = Size("middle", 10_000, 1_000, (CLMM_LAPLACE, CLMM_NODES, INTERLACE), 180.0)
LARGE = Size("large", 100_000, 5_000, (CLMM_LAPLACE, INTERLACE), 180.0)
SIZES = (SMALL, MIDDLE, LARGE)


def compared(size: Size) -> Chapter:
    """Heading, table and notes of one size.

    Where a sampler takes part only its line is in short: the others have more to say at larger sizes.
    """
    rows = rated_rows(size.drains, size.units, COLUMNS)
    answers = [(rival, fit_of(rival, rows, size.limit)) for rival in size.rivals]
    groups = _groups(size, rows, answers)
    left_out = [answer for _, answer in answers if isinstance(answer, LeftOut)]
    name = f"{size.drains:,} drains of {size.units:,} units"
    text = f"### {name}, {1 + COLUMNS} columns\n\n{fit_table(groups, left_out)}"
    in_brief = groups[1:2] if any(rival.samples for rival in size.rivals) else groups
    return Chapter(text, short_lines(in_brief, left_out, name))


def _groups(size: Size, rows: RatedRows, answers: list[tuple[Rival, PeerFit | LeftOut]]) -> list[Group]:
    """Fits with unit effects, draws where a sampler takes part, and fits without unit effects."""
    fits = [(rival, answer) for rival, answer in answers if isinstance(answer, PeerFit)]
    threads = [] if size.drains < ONE_THREAD_DRAINS else [ours_on_one_thread(rows)]
    own = [ours(rows), *threads, ours(rows, nodes=1)]
    groups = [judged_group(rows, own, [fit for rival, fit in fits if not rival.samples])]
    if any(rival.samples for rival in size.rivals):
        groups.append(judged_group(rows, [our_posterior(rows)], [fit for rival, fit in fits if rival.samples]))
    return [*groups, judged_group(rows, [ours_without_units(rows)], [statsmodels_without_units(rows)])]


INTRODUCTION = f"""## Fits with a unit effect

The same rows, columns and model for everybody, handed over as CSV. The seconds are of a fit with its standard errors,
without start-up, reading and (ours) compiling: the shortest of {MOST_TIMES}, or of as many as {ENOUGH_SECONDS:.0f} s
hold. Ours runs on one thread under {ONE_THREAD_DRAINS:,} drains, as in the program, and on all of them from there on.
"By the arbiter" is one slow integral for all, at each program's own estimates, so that a fast wrong answer cannot
win; "below the best" is the gap to the highest. The rows were made with a spread of {TRUE_SPREAD} between units. Fits
without unit effects are held against ours without them, and what they lose to the best is what the unit effect
explains; a sampler's time is held against that of our draws.
"""


def mixed_fits(sizes: tuple[Size, ...] = SIZES) -> Chapter:
    """The chapter of the results."""
    parts = [compared(size) for size in sizes]
    text = "\n".join([INTRODUCTION, *(part.text for part in parts)])
    return Chapter(text, tuple(short for part in parts for short in part.short))


if __name__ == "__main__":
    asked = sys.argv[1:] or [size.name for size in SIZES]
    chapter = mixed_fits(tuple(size for size in SIZES if size.name in asked))
    print(chapter.text, in_short([chapter]), sep="\n")
