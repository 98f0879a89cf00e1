"""What the comparison of springs found: the hand-over from the judging of springs to tables, page and prompt."""

from __future__ import annotations

from dataclasses import dataclass

SHEDS_MORE = "sheds more"
SHEDS_LESS = "sheds less"
NO_DIFFERENCE = "no practical difference"
CANNOT_TELL = "cannot tell yet"

PRACTICAL = 1.15
"""Hours multipliers from 1/1.15 to 1.15 make no difference to a shop (a starting value, no source)."""


@dataclass(frozen=True, slots=True)
class SpringPair:
    """One spring type against another in one channel.

    hours_multiplier, low, high : posterior median, 5 % and 95 % points; 0.72 reaches any rating in 0.72x the hours
    of the spring it is compared with. p_value : likelihood ratio; p_adjusted : Holm, over all pairs and channels
    judged together; p_permutation : relabelling over units; all three None where the log cannot separate the pair.
    drains, units : behind the two springs together. shared_riders, shared_oils : that were seen with both.
    drains_needed : further drains that would settle it with 80 % power; None where it is settled, or where no
    number of drains shared out as so far would. reason : why this verdict, and what would tell more.
    """

    spring_type: str
    compared_with: str
    hours_multiplier: float
    low: float
    high: float
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

    confounded : sentences on what goes with a spring in this log, and so cannot be told apart from it, or hardly;
    left_out : sentences on springs and drains that are not compared.
    """

    channel: str
    pairs: tuple[SpringPair, ...]
    confounded: tuple[str, ...]
    left_out: tuple[str, ...]
    why_none: str | None
