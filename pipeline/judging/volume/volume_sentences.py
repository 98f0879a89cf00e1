"""What the volumes say, in a technician's words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl

from draincurve.pipeline.judging.volume.level_shifts import Step
from draincurve.pipeline.judging.volume.missing_oil import NOISE_SHARE
from draincurve.pipeline.judging.volume.unit_balance import UnitBalance
from draincurve.schemas.array_types import Floats

LEFT_BEHIND = "2 to 6 % stays behind when pumped through and inverted, 8 to 20 % when only poured (common practice)"

LOSES = "loses oil"
STEP = "more is missing than before"
SHORT = "not fully drained"
OVER = "more comes out than goes in"
USUAL = "as its way of draining leaves"
BALANCED = "balanced"
CANNOT_TELL = "cannot tell yet"


def unit_reason(balance: UnitBalance, step: Step | None, *, usual_hours: float, method: str | None) -> UnitBalance:
    """The balance with its reason in plain sentences.

    usual_hours [h] : a usual fill of the unit; method : how it is mostly drained.
    """
    parts = [_finding(balance, step, usual_hours=usual_hours, method=method)]
    if balance.per_hour is not None and balance.verdict not in (LOSES, STEP):
        parts.append(
            f"With hours it changes by {balance.per_hour:+.2f} ml/h (standard error {balance.error:.2f}), "
            f"{_reading(balance)}."
        )
    if balance.came_back is not None:
        parts.append(f"Of what one drain was short of, about {_percent(balance.came_back)} came out at the next.")
    return replace(balance, reason=" ".join(parts))


def _finding(balance: UnitBalance, step: Step | None, *, usual_hours: float, method: str | None) -> str:
    if balance.verdict == LOSES:
        return _leak(balance, usual_hours)
    if balance.verdict == STEP and step is not None:
        return _step(step, balance.inspect)
    share = _percent(balance.missing_share)
    short = f"{balance.missing:.0f} ml of {balance.fill:.0f} ml ({share}) is missing on average"
    if balance.verdict == SHORT:
        return f"{short}, whatever the hours: that asks about the drain, not about a leak."
    if balance.verdict == CANNOT_TELL:
        return (
            f"{short}. Its drains are too few, or too alike in hours, to tell a leak from a drain that leaves oil "
            "behind: look at the seals."
        )
    if balance.verdict == USUAL:
        return f"{short}, as is common when oil is {method}."
    if balance.verdict == OVER:
        return (
            f"{_percent(-balance.missing_share)} more comes out than went in, on average: ask how the fill is "
            "measured, or whether oil was added unrecorded."
        )
    return f"What goes in comes out, within {_percent(NOISE_SHARE)}."


def _leak(balance: UnitBalance, usual_hours: float) -> str:
    assert balance.per_hour is not None, "a leak has a rate"
    advice = "A wet seal was noted: inspect now." if balance.inspect else "Inspect the seals now."
    taken = balance.per_hour * usual_hours
    return (
        f"More is missing the longer oil runs: {balance.per_hour:.2f} ml/h (90 % range {balance.low:.2f} to "
        f"{balance.high:.2f}), {taken:.0f} ml in a usual fill of {usual_hours:.0f} h. That is a leak, not a drain "
        f"that left oil behind. {advice}"
    )


def _step(step: Step, inspect: bool) -> str:
    last = "the last drain" if step.drains == 1 else f"the last {step.drains} drains"
    change = f"{_percent(step.after)} is missing at {last}, {_percent(step.before)} before."
    if inspect:
        return f"{change} A wet seal was noted: inspect now."
    if step.method is not None:
        before, now = step.method
        return f"{change} Oil was {before} and is now {now}, which may be why: look at the seals all the same."
    if step.drains == 1:
        return f"{change} Inspect the seals; if they are dry, what was left behind comes out at the next drain."
    return f"{change} It did not come back, so it was not left behind: inspect the seals now."


def _reading(balance: UnitBalance) -> str:
    if balance.low is not None and balance.high is not None and balance.low <= 0.0 <= balance.high:
        return "which may be nothing"
    return (
        "too little, or not sure enough, to be called a leak" if (balance.per_hour or 0.0) > 0 else "as no leak does"
    )


def fleet_sentences(
    shares: Floats, ratio: float | None, *, usual: float | None, methods: pl.Series
) -> tuple[str, ...]:
    """On the fleet as a whole: what usually stays behind, whether it comes back, and what is common.

    shares : (U,) missing share of every unit; usual : that of the usual unit, None where there is none; methods : of
    all drains.
    """
    sentences = []
    if usual is not None:
        counted = methods.drop_nulls().value_counts(sort=True)
        drained = f", mostly {counted[methods.name][0]}," if counted.height else ""
        sentences.append(f"In the usual unit{drained} {_percent(usual)} is missing at a drain; {LEFT_BEHIND}.")
        at_usual = np.abs(shares - usual) <= NOISE_SHARE
        if usual > NOISE_SHARE and 2 * at_usual.sum() > shares.size:
            sentences.append(
                "Most units miss about the same share: that is the way of draining or measuring, not leaks."
            )
    if ratio is None:
        sentences.append("Drains are too few to see whether what one leaves behind comes out at the next.")
    elif ratio > 0:
        sentences.append(
            "Over the fleet, what one drain is short of comes out at the next; leaks are judged with that in mind."
        )
    return tuple(sentences)


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %" if abs(share) < 0.0995 else f"{100 * share:.0f} %"
