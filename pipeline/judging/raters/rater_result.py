"""Raters of one channel: who rates harsher or more lenient than the others, who drifts, and how far they agree.

Units and springs are already adjusted for rater effects, which are part of the fit; here they are reported.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.raters.rater_agreement import RaterAgreement, agreements
from draincurve.pipeline.judging.raters.rater_drift import RaterDrift, rater_drifts
from draincurve.pipeline.judging.raters.rater_shift import RATER_COLUMN, RaterShift, rater_shifts

LEAST_LEVELS = 0.25
"""Smallest difference that names a rater [levels, mean over drains]."""

NEEDED_PROBABILITY = 0.9
"""Posterior probability of at least that difference from which a rater is named."""

HARSHER = "harsher"
LENIENT = "more lenient"
ALIKE = "no clear difference"
NOT_SEPARATED = "cannot be separated"


@dataclass(frozen=True, slots=True)
class RaterFinding:
    """One rater in one channel; drift : None where it cannot be tested; words : the verdict in sentences."""

    shift: RaterShift
    drift: RaterDrift | None
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class RaterResult:
    """The raters of one channel; why_not : a sentence where they cannot be compared, else empty."""

    channel: str
    why_not: str
    findings: tuple[RaterFinding, ...]
    agreements: tuple[RaterAgreement, ...]

    @property
    def named(self) -> tuple[RaterFinding, ...]:
        """Raters to talk to: those who are harsher, more lenient, or drift."""
        return tuple(
            item
            for item in self.findings
            if item.verdict in (HARSHER, LENIENT) or (item.drift is not None and item.drift.named)
        )


def judge_raters(fit: ChannelFit, drains: pl.DataFrame, *, second_ratings: pl.DataFrame) -> RaterResult:
    """The raters of one channel; drains, second_ratings : accepted rows (see Log)."""
    channel = fit.drains.channel
    shared = agreements(channel, drains, second_ratings=second_ratings)
    shifts = rater_shifts(fit)
    if not shifts:
        return RaterResult(channel, _why_not(fit), (), shared)
    drifts = {item.rater: item for item in rater_drifts(fit)}
    return RaterResult(channel, "", tuple(_finding(shift, drifts.get(shift.rater)) for shift in shifts), shared)


def _why_not(fit: ChannelFit) -> str:
    """Why the fit has no term for raters."""
    reasons = [item.reason for item in fit.drains.left_out if item.term == "rater"]
    raters = fit.drains.rows[RATER_COLUMN].drop_nulls().unique().sort().to_list()
    if len(raters) < 2:
        named = f"only {raters[0]} is named as rater" if raters else "no drain names its rater"
        return f"{named}, so raters cannot be compared"
    return f"raters cannot be separated: {reasons[0]}" if reasons else "raters cannot be separated"


def _finding(shift: RaterShift, drift: RaterDrift | None) -> RaterFinding:
    verdict = _verdict(shift)
    words = _shift_words(shift, verdict)
    if drift is not None and drift.named:
        way = "dirtier" if drift.levels_per_year > 0 else "cleaner"
        whose = f", or {shift.compared_with[0]} the other way" if len(shift.compared_with) == 1 else ""
        words += (
            f" Drifts: rates ever {way}, by about {abs(drift.levels_per_year):.1f} levels a year beyond the fleet's "
            f"own change{whose}."
        )
    return RaterFinding(shift, drift, verdict, words)


def _verdict(shift: RaterShift) -> str:
    if shift.levels is None:
        return NOT_SEPARATED
    if np.mean(shift.level_draws >= LEAST_LEVELS) >= NEEDED_PROBABILITY:
        return HARSHER
    if np.mean(shift.level_draws <= -LEAST_LEVELS) >= NEEDED_PROBABILITY:
        return LENIENT
    return ALIKE


def _shift_words(shift: RaterShift, verdict: str) -> str:
    """The shift in plain words."""
    if shift.levels is None and shift.shared_units:
        return (
            f"{shift.rater} rated at times of their own only, so their eye cannot be separated from the calendar; "
            "let another rater rate in the same weeks."
        )
    if shift.levels is None:
        return (
            f"{shift.rater} rated units of their own only, so their eye cannot be separated from their units; let "
            "another rater rate some of the same drains."
        )
    middle, low, high = shift.levels
    others = shift.compared_with[0] if len(shift.compared_with) == 1 else "the others"
    if shift.is_reference:
        return f"{shift.rater} rates in the middle of the others."
    if verdict == ALIKE:
        return f"{shift.rater} shows no clear difference from {others} ({low:+.1f} to {high:+.1f} levels)."
    way = "dirtier" if verdict == HARSHER else "cleaner"
    whose = " Which of the two is right the log cannot say." if len(shift.compared_with) == 1 else ""
    return (
        f"{shift.rater} rates about {abs(middle):.1f} levels {way} than {others} ({low:+.1f} to {high:+.1f}); units "
        f"and springs are compared with that taken out.{whose}"
    )
