"""From the numbers of a pair to a verdict and its reason.

A difference is called where three things agree: the likelihood-ratio test after Holm's correction (Holm 1979, Scand.
J. Stat. 6, 65-70), the relabelling over units, and the 90 % range on one side of 1. No practical difference is
called where the 90 % range is within 1/1.15 to 1.15, which is two one-sided tests at 5 % (Schuirmann 1987,
J. Pharmacokinet. Biopharm. 15, 657-680). All else is undecided.
"""

from __future__ import annotations

from draincurve.pipeline.judging.springs.identifiability import LEVEL_TERMS, NUMBER_TERMS
from draincurve.pipeline.judging.springs.pair_evidence import PRACTICAL, PairEvidence
from draincurve.pipeline.judging.springs.pair_tests import FEWEST_UNITS
from draincurve.pipeline.judging.springs.sample_size import LEVEL

NOTED_WIDENING = 1.25
MANY_TIMES = 20
"""If more than this multiple of the drains so far is needed, more drains like these are no practical plan."""

SHEDS_MORE = "sheds more"
SHEDS_LESS = "sheds less"
NO_DIFFERENCE = "no practical difference"
CANNOT_TELL = "cannot tell yet"


def verdict(pair: PairEvidence, p_adjusted: float | None) -> str:
    """One of the four verdicts."""
    if pair.multiplier_range is None or not pair.sound:
        return CANNOT_TELL
    low, _, high = pair.multiplier_range
    if low >= 1.0 / PRACTICAL and high <= PRACTICAL:
        return NO_DIFFERENCE
    if _doubts(pair, p_adjusted, holds_one=low <= 1.0 <= high):
        return CANNOT_TELL
    return SHEDS_MORE if high < 1.0 else SHEDS_LESS


def separable_reason(pair: PairEvidence, p_adjusted: float | None, *, tests: int) -> str:
    """Why a separable pair has its verdict, and how many drains would decide an undecided one."""
    assert pair.multiplier_range is not None, "a separable pair has a range"
    called = verdict(pair, p_adjusted)
    low, _, high = pair.multiplier_range
    ratios = f"{_multiplier(low)} to {_multiplier(high)}x the hours"
    if called == NO_DIFFERENCE:
        sentence = (
            f"The 90 % range, {ratios}, is within {_multiplier(1 / PRACTICAL)} to {PRACTICAL}x, too little to matter."
        )
    elif called == CANNOT_TELL:
        why = (
            "the fit is rough"
            if not pair.sound
            else " and ".join(_doubts(pair, p_adjusted, holds_one=low <= 1.0 <= high))
        )
        sentence = f"The 90 % range is {ratios}; {why}. {_more_drains(pair, tests)}"
    else:
        sentence = (
            f"The 90 % range, {ratios}, is all on one side of 1; the difference holds after correction for {tests} "
            f"{'test' if tests == 1 else 'tests'} (p {_chance(p_adjusted)}) and when names are exchanged in whole "
            f"units (p {_chance(pair.p_permutation)})."
        )
    return f"{sentence}{_widened(pair)}"


def _doubts(pair: PairEvidence, p_adjusted: float | None, *, holds_one: bool) -> list[str]:
    """Reasons not to call a difference, in words."""
    doubts = []
    if holds_one:
        doubts.append("it includes 1, so oil may get dirty sooner on either spring")
    elif p_adjusted is None or p_adjusted > LEVEL:
        doubts.append(f"the test over all pairs and channels does not bear it out (p {_chance(p_adjusted)})")
    elif pair.p_permutation is None or pair.p_permutation > LEVEL:
        doubts.append(
            f"{pair.units} units are too few to check it over units, which takes {FEWEST_UNITS}"
            if pair.units < FEWEST_UNITS
            else "a few units make it, since exchanging names in whole units gives as much "
            f"(p {_chance(pair.p_permutation)})"
        )
    return doubts


def _more_drains(pair: PairEvidence, tests: int) -> str:
    needed = pair.drains_needed(tests)
    if needed is None:
        return "Such drains tell nothing of it: stagger the hours within the limits, so that ratings differ."
    drains = "1 more drain" if needed == 1 else f"{rounded_up(needed)} more drains"
    sentence = (
        f"About {drains} on the two, shared out over units as so far, would find a difference of {pair.wanted:.2f}x "
        f"(80 % power).{_as_many_again(pair, tests) if needed > pair.drains else ''}"
    )
    if needed > MANY_TIMES * pair.drains:
        return f"{sentence} Drains whose ratings differ more, with hours staggered within the limits, tell more each."
    return sentence


def _as_many_again(pair: PairEvidence, tests: int) -> str:
    """What the size of trial that a shop has run once would find, since one of many times that size is seldom run."""
    found = pair.found_by_as_many(tests)
    assert found is not None, "a pair with a number of drains has information"
    assert pair.multiplier_range is not None, "a separable pair has a range"
    low, _, high = pair.multiplier_range
    ruled_out = ", and the range above rules that out already" if found > max(high, 1.0 / low) else ""
    return f" As many again ({pair.drains}) would find one of {_multiplier(found)}x or more{ruled_out}."


def rounded_up(count: int) -> int:
    """A count to two digits, rounded up, since no more of it is known."""
    step = int(10 ** max(0, len(str(count)) - 2))
    return -(-count // step) * step


def _widened(pair: PairEvidence) -> str:
    """How much confounding widens the range, where it does so much."""
    if pair.separation.widening < NOTED_WIDENING:
        return ""
    most = " and ".join(f"the {(LEVEL_TERMS | NUMBER_TERMS)[name]}" for name in pair.separation.by)
    return (
        f" Conditions differ between the springs, above all {most}: that makes the range "
        f"{pair.separation.widening:.1f} times as wide."
    )


def _multiplier(value: float) -> str:
    return f"{value:.2f}"


def _chance(value: float | None) -> str:
    if value is None:
        return "not known"
    return "under 0.001" if value < 0.001 else f"{value:.2g}"
