"""Fits that were compared, as lines of a table: times beside log likelihoods."""

from __future__ import annotations

from dataclasses import dataclass

from tests.benchmarks.chapter import Short, seconds, times
from tests.benchmarks.peers.arbiter import arbitrated
from tests.benchmarks.peers.peer_fit import LeftOut, PeerFit, RatedRows


@dataclass(frozen=True)
class Judged:
    """A fit and the arbiter's log likelihood at its estimates."""

    fit: PeerFit
    value: float


@dataclass(frozen=True)
class Group:
    """Fits that answer the same question: ours, which the others' times are held against, and the others."""

    ours: tuple[Judged, ...]
    others: tuple[Judged, ...]

    @property
    def all(self) -> tuple[Judged, ...]:
        """In the order of the table; the first is what times are held against."""
        return (*self.ours, *self.others)


HEAD = (
    "| what | time | times ours | log likelihood, as said | by the arbiter | below the best | sd between units |",
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
)


def judged_group(rows: RatedRows, ours: list[PeerFit], others: list[PeerFit]) -> Group:
    """Every fit before the same arbiter."""
    ours_judged, others_judged = (
        tuple(Judged(fit, arbitrated(fit, rows)) for fit in fits) for fits in (ours, others)
    )
    return Group(ours_judged, others_judged)


def fit_table(groups: list[Group], left_out: list[LeftOut]) -> str:
    """The table, and under it what programs said beside their numbers; in Markdown."""
    best = max(judged.value for group in groups for judged in group.all)
    lines = [_line(judged, group.ours[0], best) for group in groups for judged in group.all]
    lines += [f"| {one.what} | {one.why} | | | | | |" for one in left_out]
    fits = [judged.fit for group in groups for judged in group.all]
    notes = [f"\n{fit.what}: {fit.note}." for fit in fits if fit.note]
    return "\n".join([*HEAD, *lines, *notes]) + "\n"


def short_lines(groups: list[Group], left_out: list[LeftOut], size: str) -> tuple[Short, ...]:
    """A line for each rival beside the first of ours in its group, and for each that gave no answer."""
    shorts = [_short(judged, group.ours[0], size) for group in groups for judged in group.others]
    first = _figures(groups[0].ours[0])
    return (*shorts, *(Short(f"{one.what}: {size}", first, one.why, "") for one in left_out))


def _line(judged: Judged, reference: Judged, best: float) -> str:
    fit = judged.fit
    said = "none" if fit.log_likelihood is None else f"{fit.log_likelihood:.4f}"
    spread = f"{fit.unit_sd:.3f}" if fit.unit_sd else "none"
    time = f"{seconds(fit.seconds)} | {times(fit.seconds / reference.fit.seconds)}"
    return f"| {fit.what} | {time} | {said} | {judged.value:.4f} | {best - judged.value:.4f} | {spread} |"


def _figures(judged: Judged) -> str:
    """Time and log likelihood by the arbiter."""
    return f"{seconds(judged.fit.seconds)}, {judged.value:.4f}"


def _short(judged: Judged, reference: Judged, size: str) -> Short:
    without = "" if judged.fit.unit_sd else ", no unit effect"
    ratio = times(judged.fit.seconds / reference.fit.seconds)
    return Short(f"{judged.fit.what}{without}: {size}", _figures(reference), _figures(judged), ratio)
