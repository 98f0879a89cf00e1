"""Hours ratios and chances in everyday words; a range in words is never narrower than the range in figures."""

from __future__ import annotations

from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.schemas.next_service_table import FASTER
from draincurve.schemas.settings import StandingRule

_SHARES = (
    (0.1, "a tenth"),
    (0.2, "a fifth"),
    (0.25, "a quarter"),
    (0.3, "three tenths"),
    (1 / 3, "a third"),
    (0.4, "two fifths"),
    (0.5, "half"),
    (0.6, "three fifths"),
    (2 / 3, "two thirds"),
    (0.7, "seven tenths"),
    (0.75, "three quarters"),
    (0.8, "four fifths"),
    (0.9, "nine tenths"),
    (1.0, "as long"),
)
TYPICAL = "the fleet's typical unit on the same spring, oil and rider"
"""What an hours ratio is measured against."""


def about_share(value: float) -> str:
    """The nearest share in words: about half as long, 1.4 times as long."""
    if value > 1.05:
        return f"about {value:.1f} times as long"
    _, word = min(_SHARES, key=lambda share: abs(share[0] - value))
    return "about as long" if word == "as long" else f"about {word} as long"


def share_range(low: float, high: float) -> str:
    """A range in words, its ends rounded outwards: between a quarter and nine tenths."""
    below = [word for share, word in _SHARES if share <= low]
    above = [word for share, word in _SHARES if share >= high]
    first = below[-1] if below else "under a tenth"
    if low >= 1.0:
        first = f"{int(low * 10) / 10:.1f} times"
    last = above[0] if above else f"{-(-high * 10 // 1) / 10:.1f} times"
    return f"between {first} and {last}".replace("as long", "just as long")


def lasting_text(row: ServiceRow) -> tuple[str, str]:
    """How long oil lasts in a unit, and the range, in words; empty where they are not known."""
    if row.hours_ratio is None:
        return "", ""
    about = about_share(row.hours_ratio)
    if row.hours_ratio_low is None or row.hours_ratio_high is None:
        return about, ""
    return about, share_range(row.hours_ratio_low, row.hours_ratio_high)


def call_text(row: ServiceRow, *, rule: StandingRule) -> str:
    """Why a unit is called faster, or may be so and is not: its chance beside the cut-off; empty for any other."""
    chance, most = chance_text(row, ratio=rule.ratio), wording.percent(rule.false_discovery)
    if chance and row.standing == FASTER:
        return f"{chance} Of the units called faster, at most {most} are expected to be called so wrongly."
    if not chance or not row.unsure_text.startswith("perhaps faster"):
        return ""
    if rule.probability is not None and row.p_faster is not None and row.p_faster < rule.probability:
        return f"{chance} It is called faster from {wording.percent(rule.probability)} on."
    return f"{chance} With it, more than {most} of the units called faster would be expected to be called so wrongly."


def chance_text(row: ServiceRow, *, ratio: float) -> str:
    """The chance that a unit is as fast as the shop's line for it; empty where it is not known."""
    if row.p_faster is None:
        return ""
    share = about_share(ratio).removeprefix("about ")
    chance = min(max(row.p_faster, 1e-6), 1.0 - 1e-6)  # of so many draws, all or none is not certain
    return f"Chance that it lasts only {share} or less: {wording.percent(chance)}."
