"""The page's section on left and right legs: pairs that differ, entries that may be swapped."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from draincurve.pipeline.describing import TOO_FEW, LegPair
from draincurve.pipeline.judging.legs import ALIKE, BY_FUNCTION, DIFFERS, LegResult, PossibleSwap
from draincurve.reports.content import wording

MOST_ROWS = 20


@dataclass(frozen=True, slots=True)
class LegRow:
    """One pair in words; anchors are empty where the page has no section on a leg; late : a leg is named."""

    machine: str
    left: str
    left_anchor: str
    right: str
    right_anchor: str
    ratio: str
    verdict: str
    why: str
    late: bool


@dataclass(frozen=True, slots=True)
class LegsSection:
    """Pairs that differ, by function or not; `swaps` are questions; `sentences` on all pairs."""

    rows: tuple[LegRow, ...]
    swaps: tuple[str, ...]
    sentences: tuple[str, ...]


def legs_section(result: LegResult, in_service: Collection[str], as_of: date) -> LegsSection | None:
    """Everything the page says about pairs; None where no two units are one.

    in_service : names of the units that the page has sections on; a unit's key is its name there.
    """
    if not (result.pairs or result.unclear):
        return None
    listed = [pair for verdict in (DIFFERS, BY_FUNCTION) for pair in result.pairs if pair.verdict == verdict]
    return LegsSection(
        tuple(_row(pair, in_service) for pair in listed[:MOST_ROWS]),
        tuple(_question(swap, as_of) for swap in result.swaps),
        (*_counts(result), *result.unclear),
    )


def _row(pair: LegPair, in_service: Collection[str]) -> LegRow:
    return LegRow(
        machine=pair.machine,
        left=pair.left,
        left_anchor=wording.anchor(pair.left) if pair.left in in_service else "",
        right=pair.right,
        right_anchor=wording.anchor(pair.right) if pair.right in in_service else "",
        ratio=wording.ratio(pair.hours_ratio, pair.low, pair.high),
        verdict=pair.verdict,
        why=_why(pair),
        late=pair.verdict == DIFFERS,
    )


def _why(pair: LegPair) -> str:
    if pair.verdict == BY_FUNCTION:
        return wording.sentence(f"{pair.by_function}, so they need not be alike and neither is blamed")
    usual = (
        "" if pair.usual_ratio is None else f", where one pair in ten differs by more than {pair.usual_ratio:.2f}x"
    )
    return (
        f"Oil lasts less in {pair.named}, by {pair.channel} over {pair.drains_left} and {pair.drains_right} drains"
        f"{usual}. Look for what the legs do not share: bush, tube, spring, seal."
    )


def _question(swap: PossibleSwap, as_of: date) -> str:
    what = (
        f"all entries from {wording.day(swap.first_on, as_of)} on"
        if swap.from_then_on
        else (f"the entries of {wording.day(swap.first_on, as_of)}")
    )
    if swap.by_meter:
        why = "both hour meters carry on only if they are swapped"
    else:
        times = "over 1000" if swap.times_likelier > 1000 else f"{swap.times_likelier:.0f}"
        why = f"their ratings are {times} times as likely that way"
    return f"{swap.left} and {swap.right} ({swap.machine}): were {what} swapped? {wording.sentence(why)}"


def _counts(result: LegResult) -> list[str]:
    count = {verdict: sum(pair.verdict == verdict for pair in result.pairs) for verdict in (ALIKE, DIFFERS, TOO_FEW)}
    said = []
    if count[ALIKE]:
        said.append(
            f"{wording.counted(count[ALIKE], 'pair')} {wording.plural(count[ALIKE], 'does', 'do')} not differ more "
            "than pairs usually do."
        )
    if count[TOO_FEW]:
        said.append(
            f"{wording.counted(count[TOO_FEW], 'pair')} {wording.plural(count[TOO_FEW], 'is', 'are')} not judged: "
            "drains, or pairs to hold them against, are too few."
        )
    if count[DIFFERS] + count[ALIKE]:
        said.append("In a fleet without an odd leg, one report in ten at most names a pair by chance.")
    return said
