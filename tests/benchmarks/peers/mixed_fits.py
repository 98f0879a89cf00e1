"""Fits with a unit effect side by side on the same rows, log likelihoods beside the times.

python -m tests.benchmarks.peers.mixed_fits [small | middle | large ...]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

from pipeline.fitting.channel_fit import SMALL_LOG_DRAINS
from tests.benchmarks.chapter import Chapter, Short, in_short, seconds, times
from tests.benchmarks.peers.arbiter import arbitrated
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
HEAD = (
    "| what | time | times ours | log likelihood, as said | by the arbiter | below the best | unit spread |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
)


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


@dataclass(frozen=True)
class Judged:
    """A fit and the arbiter's log likelihood at its estimates."""

    fit: PeerFit
    value: float


@dataclass(frozen=True)
class Group:
    """Fits that answer the same question: ours, which the others' times are held against, and the others."""

    reference: Judged
    ours: tuple[Judged, ...]
    others: tuple[Judged, ...]

    @property
    def all(self) -> tuple[Judged, ...]:
        """In the order of the table."""
        return (self.reference, *self.ours, *self.others)


def compared(size: Size) -> Chapter:
    """Heading, table and notes of one size."""
    rows = rated_rows(size.drains, size.units, COLUMNS)
    answers = [(rival, fit_of(rival, rows, size.limit)) for rival in size.rivals]
    fitted = [answer for rival, answer in answers if isinstance(answer, PeerFit) and not rival.samples]
    drawn = [answer for rival, answer in answers if isinstance(answer, PeerFit) and rival.samples]
    left_out = [answer for _, answer in answers if isinstance(answer, LeftOut)]
    threads = [] if size.drains < SMALL_LOG_DRAINS else [ours_on_one_thread(rows)]
    groups = [_group(rows, ours(rows), [*threads, ours(rows, nodes=1)], fitted)]
    if any(rival.samples for rival in size.rivals):
        groups.append(_group(rows, our_posterior(rows), [], drawn))
    groups.append(_group(rows, ours_without_units(rows), [], [statsmodels_without_units(rows)]))
    best = max(judged.value for group in groups for judged in group.all)
    lines = [f"### {size.drains:,} drains of {size.units:,} units, {1 + COLUMNS} columns\n", HEAD]
    lines += [_line(judged, group.reference, best) for group in groups for judged in group.all]
    lines += [f"| {answer.what} | {answer.why} | | | | | |" for answer in left_out]
    fits = [judged.fit for group in groups for judged in group.all]
    notes = [f"\n{fit.what}: {fit.note}." for fit in fits if fit.note]
    short = tuple(_short(size, group.reference, judged) for group in groups for judged in group.others)
    return Chapter("\n".join(lines + notes) + "\n", short)


def _group(rows: RatedRows, reference: PeerFit, ours_: list[PeerFit], others: list[PeerFit]) -> Group:
    """Every fit before the same arbiter."""
    judged = [tuple(Judged(fit, arbitrated(fit, rows)) for fit in fits) for fits in ([reference], ours_, others)]
    return Group(judged[0][0], judged[1], judged[2])


def _line(judged: Judged, reference: Judged, best: float) -> str:
    """One fit beside ours for the same question."""
    fit = judged.fit
    said = "none" if fit.log_likelihood is None else f"{fit.log_likelihood:.4f}"
    spread = f"{fit.unit_sd:.3f}" if fit.unit_sd else "none"
    time = f"{seconds(fit.seconds)} | {times(fit.seconds / reference.fit.seconds)}"
    return f"| {fit.what} | {time} | {said} | {judged.value:.4f} | {best - judged.value:.4f} | {spread} |"


def _short(size: Size, reference: Judged, theirs: Judged) -> Short:
    """A rival beside ours, log likelihoods by the arbiter."""
    shown = [f"{seconds(judged.fit.seconds)}, {judged.value:.4f}" for judged in (reference, theirs)]
    without = "" if theirs.fit.unit_sd else ", no unit effect"
    what = f"{theirs.fit.what}{without}: {size.drains:,} drains of {size.units:,} units"
    return Short(what, shown[0], shown[1], times(theirs.fit.seconds / reference.fit.seconds))


INTRODUCTION = f"""## Fits with a unit effect

The same rows, columns and model for everybody, handed over as CSV. The seconds are of a fit with its standard errors,
without start-up, reading and (ours) compiling: the shortest of {MOST_TIMES}, or of as many as {ENOUGH_SECONDS:.0f} s
hold. Ours runs on one thread under {SMALL_LOG_DRAINS:,} drains, as in the program, and on all of them from there on.
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
