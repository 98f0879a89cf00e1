"""Fits with a unit effect side by side on the same rows, log likelihoods beside the times.

python -m tests.benchmarks.peers.mixed_fits [small | middle | large ...]
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

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
    "| what | seconds | times ours | log likelihood, as said | by the arbiter | below the best | unit spread |\n"
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

    @property
    def has_posterior(self) -> bool:
        """Whether a sampler takes part."""
        return BAMBI in self.rivals


SMALL = Size("small", 600, 40, (CLMM_LAPLACE, CLMM_NODES, INTERLACE, BAMBI), 600.0)
MIDDLE = Size("middle", 10_000, 1_000, (CLMM_LAPLACE, CLMM_NODES, INTERLACE), 180.0)
LARGE = Size("large", 100_000, 5_000, (CLMM_LAPLACE, INTERLACE), 180.0)
SIZES = (SMALL, MIDDLE, LARGE)


@dataclass(frozen=True)
class Judged:
    """A fit and the arbiter's log likelihood at its estimates."""

    fit: PeerFit
    value: float


def compared(size: Size) -> str:
    """Heading, table and notes of one size, in Markdown."""
    rows = rated_rows(size.drains, size.units, COLUMNS)
    fits = [ours(rows), ours_on_one_thread(rows), ours(rows, nodes=1)]
    answers = [fit_of(rival, rows, size.limit) for rival in size.rivals]
    fits += [answer for answer in answers if isinstance(answer, PeerFit)]
    plain = [ours_without_units(rows), statsmodels_without_units(rows)]
    with_units, without = _judged(fits, rows), _judged(plain, rows)
    best = max(judged.value for judged in with_units)
    lines = [f"### {size.drains:,} drains of {size.units:,} units, {1 + COLUMNS} columns\n", HEAD]
    lines += [_line(judged, with_units[0], best) for judged in with_units]
    lines += [f"| {answer.what} | {answer.why} | | | | | |" for answer in answers if isinstance(answer, LeftOut)]
    lines += [_line(judged, without[0], best) for judged in without]
    return "\n".join(lines) + _notes(size, rows, [*fits, *plain])


def _judged(fits: list[PeerFit], rows: RatedRows) -> list[Judged]:
    """Every fit before the same arbiter."""
    return [Judged(fit, arbitrated(fit, rows)) for fit in fits]


def _line(judged: Judged, reference: Judged, best: float) -> str:
    """One fit beside ours for the same question."""
    fit = judged.fit
    said = "none" if fit.log_likelihood is None else f"{fit.log_likelihood:.4f}"
    spread = f"{fit.unit_sd:.3f}" if fit.unit_sd else "none"
    ratio = fit.seconds / reference.fit.seconds
    below = max(0.0, best - judged.value)
    return f"| {fit.what} | {fit.seconds:.3g} | {ratio:,.1f} | {said} | {judged.value:.4f} | {below:.4f} | {spread} |"


def _notes(size: Size, rows: RatedRows, fits: list[PeerFit]) -> str:
    """What programs said beside their numbers, and our own posterior where a sampler took part."""
    notes = [f"{fit.what}: {fit.note}." for fit in fits if fit.note]
    if size.has_posterior:
        notes.append(our_posterior(rows))
    return "".join(f"\n\n{note}" for note in notes) + "\n"


INTRODUCTION = f"""## Fits with a unit effect

The same rows, columns and model for everybody, handed over as CSV. The seconds are of a fit with its standard
errors, without start-up, reading and (ours) compiling: the shortest of {MOST_TIMES}, or of as many as
{ENOUGH_SECONDS:.0f} s hold. Ours runs on all threads unless it says one. "By the arbiter" is one slow integral for
all, at each program's own estimates, so that a fast wrong answer cannot win; "below the best" is the gap to the
highest of the fits with unit effects. The rows were made with a spread of {TRUE_SPREAD} between units. Fits without
unit effects are held against ours without them; what they lose to the best is what the unit effect explains.
"""


def mixed_fits(sizes: tuple[Size, ...] = SIZES) -> str:
    """The chapter of the results, in Markdown."""
    return "\n".join([INTRODUCTION, *(compared(size) for size in sizes)])


if __name__ == "__main__":
    asked = sys.argv[1:] or [size.name for size in SIZES]
    print(mixed_fits(tuple(size for size in SIZES if size.name in asked)))
