"""Raters of one channel: who rates harsher or more lenient than the others, who drifts, and how far they agree.

Units and springs are already adjusted for rater effects, which are part of the fit; here they are reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit, RaterDrift, rater_drifts
from draincurve.pipeline.judging.raters.rater_agreement import RaterAgreement, agreements
from draincurve.pipeline.judging.raters.rater_shift import RATER_COLUMN, RaterShift, rater_shifts

LEAST_LEVELS = 0.25
"""Smallest difference that names a rater [levels, mean over drains]."""

NEEDED_PROBABILITY = 0.9
"""Posterior probability of at least that difference from which a rater is named."""

HARSHER = "harsher"
LENIENT = "more lenient"
NO_CLEAR_DIFFERENCE = "no clear difference"
NOT_SEPARATED = "cannot be separated"


@dataclass(frozen=True, slots=True)
class RaterFinding:
    """One rater in one channel; drift : None where it cannot be tested; text : the verdict in sentences."""

    shift: RaterShift
    drift: RaterDrift | None
    verdict: str
    text: str


@dataclass(frozen=True, slots=True)
class RaterResult:
    """The raters of one channel.

    why_not : a sentence where they cannot be compared, else empty.
    reference_text : to whose ratings the limits refer, in a sentence; empty where no rater is named.
    reference_rated : whether the reference rater rated for this channel.
    """

    channel: str
    why_not: str
    findings: tuple[RaterFinding, ...]
    agreements: tuple[RaterAgreement, ...]
    reference_text: str = ""
    reference_rated: bool = True

    @property
    def named(self) -> tuple[RaterFinding, ...]:
        """Raters to talk to: those who are harsher, more lenient, or drift."""
        return tuple(
            item
            for item in self.findings
            if item.verdict in (HARSHER, LENIENT) or (item.drift is not None and item.drift.named)
        )


def judge_raters(
    fit: ChannelFit,
    drains: pl.DataFrame,
    *,
    second_ratings: pl.DataFrame,
    reference: str | None = None,
    drifts: Sequence[RaterDrift] | None = None,
) -> RaterResult:
    """The raters of one channel.

    drains, second_ratings : accepted rows (see Log); reference : the rater whose ratings the limits refer to, None
    for the average of all; drifts : as tested without a walk in the fit, None where they are to be tested here.
    """
    channel = fit.drains.channel
    raters = fit.drains.rows[RATER_COLUMN].cast(pl.String).drop_nulls().unique().sort().to_list()
    shifts = rater_shifts(fit)
    taken_out = {term.rater for term in fit.drains.terms if term.kind == "drift"}
    tested = {item.rater: item for item in (rater_drifts(fit) if drifts is None else drifts)} if shifts else {}
    return RaterResult(
        channel,
        why_not="" if shifts else _why_not(fit, raters),
        findings=tuple(
            _finding(shift, tested.get(shift.rater), taken_out=shift.rater in taken_out) for shift in shifts
        ),
        agreements=agreements(channel, drains, second_ratings=second_ratings),
        reference_text=_reference_text(raters, reference, separated=bool(shifts)),
        reference_rated=reference is None or reference in raters,
    )


def _reference_text(raters: list[str], reference: str | None, *, separated: bool) -> str:
    """To whose ratings the limits refer, in a sentence.

    raters : who rated for the channel; separated : whether the fit has a term for them.
    """
    if not raters:
        return ""
    if len(raters) == 1:
        whose = f"the eye of {raters[0]}"
    elif not separated:
        whose = f"the eyes of all {len(raters)} raters together, who cannot be separated"
    elif reference in raters:
        return f"The limits follow the eye of {reference}, the reference rater."
    else:
        whose = f"the average of {len(raters)} raters"
    if reference is None or reference in raters:
        return f"The limits follow {whose}."
    room = ", with room for how much raters differ" if separated else ""
    return f"{reference}, the reference rater, rated nothing for this: the limits follow {whose}{room}."


def _why_not(fit: ChannelFit, raters: list[str]) -> str:
    """Why the fit has no term for raters."""
    reasons = [item.reason for item in fit.drains.left_out if item.term == "rater"]
    if len(raters) < 2:
        again = sorted({str(rater) for rater in fit.drains.second.rater} - {*raters}) if fit.drains.second else []
        if raters and again:
            others = " and ".join(again)
            return f"{others} rated only drains that {raters[0]} rated too: compared below by these alone"
        named = f"only {raters[0]} is named as rater" if raters else "no drain names its rater"
        return f"{named}, so raters cannot be compared"
    return f"raters cannot be separated: {reasons[0]}" if reasons else "raters cannot be separated"


def _finding(shift: RaterShift, drift: RaterDrift | None, *, taken_out: bool) -> RaterFinding:
    verdict = _verdict(shift)
    text = _shift_text(shift, verdict)
    if drift is not None and drift.named:
        way = "dirtier" if drift.levels_per_year > 0 else "cleaner"
        whose = f", or {shift.compared_with[0]} the other way" if len(shift.compared_with) == 1 else ""
        text += (
            f" Drifts: rates ever {way}, by about {abs(drift.levels_per_year):.1f} levels a year beyond the fleet's "
            f"own change{whose}."
        )
        if taken_out:
            text += (
                " Units are judged with that taken out; the hours are the shorter of those with it and without it, "
                "unless the reference rater is known to be steady."
            )
    return RaterFinding(shift, drift, verdict, text)


def _verdict(shift: RaterShift) -> str:
    if shift.levels is None:
        return NOT_SEPARATED
    if np.mean(shift.level_draws >= LEAST_LEVELS) >= NEEDED_PROBABILITY:
        return HARSHER
    if np.mean(shift.level_draws <= -LEAST_LEVELS) >= NEEDED_PROBABILITY:
        return LENIENT
    return NO_CLEAR_DIFFERENCE


def _shift_text(shift: RaterShift, verdict: str) -> str:
    """The shift in plain English."""
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
    if verdict == NO_CLEAR_DIFFERENCE:
        return f"{shift.rater} shows no clear difference from {others} ({low:+.1f} to {high:+.1f} levels)."
    way = "dirtier" if verdict == HARSHER else "cleaner"
    whose = " Which of the two is right the log cannot say." if len(shift.compared_with) == 1 else ""
    return (
        f"{shift.rater} rates about {abs(middle):.1f} levels {way} than {others} ({low:+.1f} to {high:+.1f}); units "
        f"and springs are compared with that taken out.{whose}"
    )
