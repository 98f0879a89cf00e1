"""The comparison of springs, from fitted channels to verdicts with reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.describing import describe, describe_channel
from draincurve.pipeline.fitting import ChannelFit, choose_oil_term, fit, fit_channel
from draincurve.pipeline.holm import holm
from draincurve.pipeline.judging.springs.comparable_springs import Comparable, comparable
from draincurve.pipeline.judging.springs.confounding import (
    calendar_sentences,
    confounded_sentences,
    confounders_text,
    swap,
)
from draincurve.pipeline.judging.springs.pair_evidence import PairEvidence, pair_evidence
from draincurve.pipeline.judging.springs.spring_verdicts import CANNOT_TELL, rounded_up, separable_reason, verdict
from draincurve.pipeline.random_streams import stream
from draincurve.pipeline.reading import Log
from draincurve.pipeline.stopwatch import Stopwatch
from draincurve.schemas.settings import Settings
from draincurve.schemas.spring_effects_table import COLUMNS, checked_spring_effects

_WHOLE = ("drains", "units", "shared_riders", "shared_oils", "drains_needed")
_WORDS = ("channel", "spring_type", "compared_with", "verdict")
_TYPES = {name: pl.String() if name in _WORDS else pl.Int64() if name in _WHOLE else pl.Float64() for name in COLUMNS}


@dataclass(frozen=True, slots=True)
class SpringPair:
    """One spring type against another in one channel.

    hours_multiplier, low, high : posterior median, 5 % and 95 % points; 0.72 reaches any rating in 0.72x the hours
    of the spring it is compared with. p_value : likelihood ratio; p_adjusted : Holm, over all pairs and channels
    judged together; p_permutation : relabelling over units. All six None where the log cannot separate the pair: a
    number would then be the rider's, or the season's, as much as the spring's.
    drains, units : behind the two springs together. shared_riders, shared_oils : that were seen with both.
    drains_needed : further drains that would settle it with 80 % power; None where it is settled, or where no
    number of drains distributed as so far would. reason : why this verdict, and what would settle it.
    """

    spring_type: str
    compared_with: str
    hours_multiplier: float | None
    low: float | None
    high: float | None
    p_value: float | None
    p_adjusted: float | None
    p_permutation: float | None
    verdict: str
    drains: int
    units: int
    shared_riders: int
    shared_oils: int
    drains_needed: int | None
    reason: str


@dataclass(frozen=True, slots=True)
class SpringComparison:
    """All pairs of one channel; `why_none` is a sentence where there is no pair.

    confounded : sentences on what is confounded with a spring in this log, wholly or nearly;
    left_out : sentences on springs and drains that are not compared;
    adjusted_for : labels of what else is in the fit.
    """

    channel: str
    pairs: tuple[SpringPair, ...]
    confounded: tuple[str, ...]
    left_out: tuple[str, ...]
    why_none: str | None
    adjusted_for: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LogSprings:
    """The comparison of each fitted channel of a log, and a sentence for each channel without a fit."""

    comparisons: tuple[SpringComparison, ...]
    unfitted: tuple[str, ...]


def compare_log_springs(log: Log, settings: Settings, *, watch: Stopwatch | None = None) -> LogSprings:
    """From a log to verdicts on its springs, the same as in the main job."""
    watch = watch or Stopwatch()
    described = describe(log, settings, choose_oil_term=choose_oil_term, watch=watch)
    # Other interpretations of what is asked about, and measured values, say nothing about springs.
    fitted = fit(
        replace(described, rated_by_interpretation=(), names_by_interpretation=(), measured=()), settings, watch=watch
    )
    unfitted = [f"{channel.capitalize()}: {why}." for channel, why in fitted.channels.items() if isinstance(why, str)]
    with watch.stage("comparing springs"):
        rng = stream(settings.seed, "springs")
        return LogSprings(compare_springs(fitted.sample_fits, settings, rng=rng), tuple(unfitted))


def compare_springs(
    fits: Sequence[ChannelFit], settings: Settings, *, rng: np.random.Generator
) -> tuple[SpringComparison, ...]:
    """Every pair of springs in every fitted channel, adjusted for all else that the fit holds.

    fits : the channels together, since Holm's correction is over all their pairs.
    """
    chosen = [comparable(fit.drains) for fit in fits]
    evidence = [
        _evidence(fit, fit_springs, settings=settings, rng=rng) for fit, fit_springs in zip(fits, chosen, strict=True)
    ]
    tested = [pair.test.p_value for _, pairs in evidence for pair in pairs if pair.test is not None]
    adjusted = iter(holm(tested))
    tests = max(1, len(tested))
    return tuple(
        SpringComparison(
            channel=fit.drains.channel,
            pairs=tuple(
                _spring_pair(pair, None if pair.test is None else next(adjusted), tests=tests, chosen=fit_springs)
                for pair in pairs
            ),
            confounded=(*confounded_sentences(fit_springs.rows), *calendar_sentences(pairs, fit_springs.rows))
            if fit_springs.pairs
            else (),
            left_out=fit_springs.left_out,
            why_none=fit_springs.why_none,
            adjusted_for=tuple(term.label for term in used.drains.terms if term.column != "spring_type"),
        )
        for fit, fit_springs, (used, pairs) in zip(fits, chosen, evidence, strict=True)
    )


def _evidence(
    fit: ChannelFit, chosen: Comparable, *, settings: Settings, rng: np.random.Generator
) -> tuple[ChannelFit, tuple[PairEvidence, ...]]:
    """A channel's evidence and the fit it is from; drains of other chambers on a compared spring call for another."""
    if not chosen.pairs:
        return fit, ()
    if not chosen.mixed:
        return fit, pair_evidence(fit, chosen, rng=rng)
    again = fit_channel(describe_channel(chosen.rows, fit.drains.channel), settings, rng=rng, effects_later=True)
    assert isinstance(again, ChannelFit), "comparable drains are rated"
    return again, pair_evidence(again, chosen, rng=rng)


def _spring_pair(pair: PairEvidence, p_adjusted: float | None, *, tests: int, chosen: Comparable) -> SpringPair:
    called = verdict(pair, p_adjusted)
    low, median, high = pair.multiplier_range or (None, None, None)
    return SpringPair(
        spring_type=pair.spring_type,
        compared_with=pair.compared_with,
        hours_multiplier=median,
        low=low,
        high=high,
        p_value=None if pair.test is None else pair.test.p_value,
        p_adjusted=p_adjusted,
        p_permutation=pair.p_permutation,
        verdict=called,
        drains=pair.drains,
        units=pair.units,
        shared_riders=pair.shared_riders,
        shared_oils=pair.shared_oils,
        drains_needed=pair.drains_needed(tests) if called == CANNOT_TELL else None,
        reason=separable_reason(pair, p_adjusted, tests=tests)
        if pair.separable
        else _swap_reason(pair, tests, chosen=chosen),
    )


def _swap_reason(pair: PairEvidence, tests: int, *, chosen: Comparable) -> str:
    """Why a pair cannot be separated, and the swap that would separate it."""
    by_few = ""
    if np.isfinite(pair.separation.widening) and pair.lone_unit is None:
        by_few = f", but for a few drains that make the range {pair.separation.widening:.1f} times as wide"
    count = pair.drains_after_swap(tests)
    after = "and stagger the hours within the limits, so that ratings differ."
    if count is not None:
        drains = f"about {rounded_up(count)} drains, half on each"
        after = f"{drains}, would then find a difference of {pair.wanted:.2f}x (80 % power)."
    return (
        f"{pair.spring_type} and {pair.compared_with} cannot be distinguished from {confounders_text(pair)}{by_few}. "
        f"To tell: {swap(pair, chosen.rows)}; {after}"
    )


def spring_effects_table(comparisons: Sequence[SpringComparison]) -> pl.DataFrame:
    """One row per channel and pair; no row where no springs can be compared. Raises ContractError."""
    rows = [{"channel": comparison.channel} | asdict(pair) for comparison in comparisons for pair in comparison.pairs]
    table = pl.DataFrame([{name: row[name] for name in COLUMNS} for row in rows], schema=_TYPES)
    return checked_spring_effects(table)
