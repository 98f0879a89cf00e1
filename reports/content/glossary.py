"""Words of the report in one sentence each, for whoever meets them for the first time."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.reports.content.ratio_text import TYPICAL
from draincurve.schemas.channels import channel_names


@dataclass(frozen=True, slots=True)
class GlossaryEntry:
    """One word; key : its fragment name."""

    key: str
    word: str
    meaning: str


_MEANINGS = (
    (
        "inspect",
        "Inspect",
        "a sign of damage was written down, or a note may mean one, and no later drain says that it is gone (no "
        "under that sign, or a rebuild): find the cause before the unit is ridden.",
    ),
    (
        "due",
        "Due",
        "the hours or days of the oil are used up, or not known. By a day: it is the last one within its hours. "
        "Before a day: its booked ride would take the oil past them.",
    ),
    (
        "interval",
        "Interval",
        "hours that this oil may run, so short that the chance of oil past its limit stays small. Its range says how "
        "far off it may be.",
    ),
    (
        "limit",
        "Past its limit",
        "rated at or over the rating from which the shop calls oil no longer fit.",
    ),
    (
        "faster",
        "Faster than the fleet",
        f"oil gets dirty sooner in this unit than in {TYPICAL}, by more than chance explains.",
    ),
    (
        "set-by",
        "Set by",
        f"what comes first: {' or '.join(channel_names())}, the oil's age, wear, the maker's limit, or the longest "
        "fill seen. A channel in brackets gives at least four fifths as much of the risk.",
    ),
    ("risk", "Risk now", "the chance that the oil in the unit is past its limit today."),
    (
        "ratio",
        "Hours ratio",
        f"how long oil lasts in this unit, measured against {TYPICAL}: 0.5x is half as long. Few drains pull it "
        "towards 1. The fleet's intervals are for a unit of which only spring and oil are known, so they are "
        "shorter than the typical unit's.",
    ),
    (
        "standing",
        "Standing",
        "whether a unit's oil lasts as long as in the others. A unit is called faster or slower only where few of "
        "those so called would be called wrongly. A range clear of 1 is not enough: among many units some are by "
        "chance.",
    ),
    ("held-back", "Held back", "a row that cannot be right. It was not used, and waits for whoever wrote it."),
    (
        "asked-about",
        "Asked about",
        "a row that was used, with a question. Until the answer comes it never makes an interval longer.",
    ),
    (
        "estimated",
        "Estimated hours",
        "no usage log covers the time since the drain, so hours are reckoned from past riding, on the cautious side.",
    ),
    (
        "predictions",
        "Earlier predictions",
        "what this method would have said in the past, compared with the drains that came after.",
    ),
)
GLOSSARY = tuple(GlossaryEntry(*words) for words in _MEANINGS)
"""In the order in which a reader meets them."""

TERM_OF_SUBJECT = {
    "Rows": "held-back",
    "Asked about": "asked-about",
    "Hours": "estimated",
    "Earlier predictions": "predictions",
}
"""The term that explains a subject of the first screen."""
