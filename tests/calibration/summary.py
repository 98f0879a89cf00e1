"""Scores of fleets as lines of a table: means over fleets with their Monte-Carlo standard errors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tests.calibration.scored_fleet import LEVELS, FleetScore

Estimate = tuple[float, float]
"""A value and its standard error; NaN where nothing tells."""


@dataclass(frozen=True)
class Line:
    """What a set of fleets gave. coverage : one estimate a level of LEVELS."""

    fleets: int
    coverage: tuple[Estimate, ...]
    safe: Estimate
    risk: Estimate
    risk_kept: Estimate
    wrong_share: Estimate
    found_share: Estimate
    effective: float
    shape: float
    rounds: float
    untrusted: int
    seconds: float


def summarised(scores: Sequence[FleetScore]) -> Line:
    """One line: fleets count equally, units within a fleet too; fleets are what is independent."""
    return Line(
        fleets=len(scores),
        coverage=tuple(_mean(scores, lambda score, i=i: score.inside[i]) for i in range(len(LEVELS))),
        safe=_mean(scores, lambda score: score.safe),
        risk=_mean(scores, lambda score: score.risk),
        risk_kept=_mean(scores, lambda score: score.risk_kept),
        wrong_share=_share(scores, lambda score: score.wrong, lambda score: score.called),
        found_share=_share(scores, lambda score: score.found, lambda score: score.fast),
        effective=float(np.median([score.effective for score in scores])),
        shape=float(np.max([score.shape for score in scores])),
        rounds=float(np.mean([score.rounds for score in scores])),
        untrusted=sum(not score.trusted for score in scores),
        seconds=float(np.median([score.seconds for score in scores])),
    )


def _mean(scores: Sequence[FleetScore], value: Callable[[FleetScore], float]) -> Estimate:
    values = np.array([value(score) for score in scores], dtype=float)
    error = values.std(ddof=1) / np.sqrt(values.size) if values.size > 1 else np.nan
    return float(values.mean()), float(error)


def _share(
    scores: Sequence[FleetScore], part: Callable[[FleetScore], float], whole: Callable[[FleetScore], float]
) -> Estimate:
    """A ratio of totals over fleets, its error by linearisation."""
    parts = np.array([part(score) for score in scores], dtype=float)
    wholes = np.array([whole(score) for score in scores], dtype=float)
    if wholes.sum() == 0:
        return float("nan"), float("nan")
    ratio = parts.sum() / wholes.sum()
    if parts.size < 2:
        return float(ratio), float("nan")
    error = np.sqrt(parts.size * np.var(parts - ratio * wholes, ddof=1)) / wholes.sum()
    return float(ratio), float(error)
