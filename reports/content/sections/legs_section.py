"""The section on left and right legs: pairs that differ, and entries that may have been swapped."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from draincurve.pipeline.describing import TOO_FEW, LegPair
from draincurve.pipeline.judging.legs import BY_FUNCTION, DIFFERS, LIKE_OTHER_PAIRS, LegResult, PossibleSwap
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import section_anchor

MOST_ROWS = 20
NONE_DIFFERS = "No leg was found to differ from its partner more than pairs usually do."
NONE_JUDGED = "No pair of legs can be judged yet."


@dataclass(frozen=True, slots=True)
class LegRow:
    """One pair in words; an anchor is empty for a leg without a section.  urgent : one leg is named as worse."""

    machine: str
    left: str
    left_anchor: str
    right: str
    right_anchor: str
    ratio: str
    verdict: str
    why: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class LegsSection:
    """Pairs that differ, by function or not; swaps : questions.  sentences : about all pairs.

    none_differs : that none does, or that none could be judged; empty where one differs.
    """

    rows: tuple[LegRow, ...]
    swaps: tuple[str, ...]
    sentences: tuple[str, ...]
    none_differs: str


def legs_section(result: LegResult, *, in_service: Collection[str], as_of: date) -> LegsSection | None:
    """Pairs of legs in words; None if no two units are a pair.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    if not (result.pairs or result.unclear):
        return None
    judged = any(pair.verdict != TOO_FEW for pair in result.pairs)
    listed = [pair for verdict in (DIFFERS, BY_FUNCTION) for pair in result.pairs if pair.verdict == verdict]
    return LegsSection(
        tuple(_row(pair, in_service) for pair in listed[:MOST_ROWS]),
        tuple(_question(swap, as_of) for swap in result.swaps),
        (*_counts(result), *result.unclear),
        none_differs="" if listed else NONE_DIFFERS if judged else NONE_JUDGED,
    )


def _row(pair: LegPair, in_service: Collection[str]) -> LegRow:
    return LegRow(
        machine=pair.machine,
        left=pair.left,
        left_anchor=section_anchor(pair.left, in_service),
        right=pair.right,
        right_anchor=section_anchor(pair.right, in_service),
        ratio=wording.ratio(pair.hours_ratio, low=pair.low, high=pair.high),
        verdict=pair.verdict,
        why=_explanation(pair),
        urgent=pair.verdict == DIFFERS,
    )


def _explanation(pair: LegPair) -> str:
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
    day = wording.day(swap.first_on, as_of)
    entries = f"all entries from {day} on" if swap.from_then_on else f"the entries of {day}"
    if swap.by_meter:
        why = "both hour meters carry on only if they are swapped"
    else:
        times = "over 1000" if swap.times_likelier > 1000 else f"{swap.times_likelier:.0f}"
        why = f"their ratings are {times} times as likely that way"
    return f"{swap.left} and {swap.right} ({swap.machine}): were {entries} swapped? {wording.sentence(why)}"


def _counts(result: LegResult) -> list[str]:
    count = {
        verdict: sum(pair.verdict == verdict for pair in result.pairs)
        for verdict in (LIKE_OTHER_PAIRS, DIFFERS, TOO_FEW)
    }
    sentences = []
    like_others = count[LIKE_OTHER_PAIRS]
    if like_others:
        sentences.append(
            f"{wording.counted(like_others, 'pair')} {wording.plural(like_others, 'does', many='do')} not differ "
            "more than pairs usually do."
        )
    if count[TOO_FEW]:
        sentences.append(
            f"{wording.counted(count[TOO_FEW], 'pair')} {wording.plural(count[TOO_FEW], 'is', many='are')} not "
            "judged: there are too few drains, or too few pairs to compare with."
        )
    if count[DIFFERS] + like_others:
        sentences.append("In a fleet where no leg differs, at most one report in ten names a pair by chance.")
    if result.unseen:
        of_pairs = f"{len(result.unseen)} of {wording.counted(len(result.pairs), 'pair')}"
        sentences.append(
            f"Entries swapped between the legs on one day alone could not be seen in {of_pairs}: the legs are too "
            "much alike for a day's ratings to tell, and no hour meter does."
        )
    return sentences
