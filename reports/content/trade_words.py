"""Standing words of the trade for the page: what ratings mean, how to look, what set an interval, cautions."""

from __future__ import annotations

COLOUR_SCALE = (
    "as poured",
    "tinted but bright",
    "clouded, tray base still clear",
    "dark, base hard to see",
    "opaque or muddy",
)

DEBRIS_SCALE = (
    "none found",
    "faint shimmer when tilted",
    "glitter without tilting",
    "settled streak, or fuzz on the magnet",
    "single flakes or slivers",
)

SCALES = {"colour": COLOUR_SCALE, "debris": DEBRIS_SCALE}

HOW_TO_LOOK = (
    "Drain warm, pump the rod, stir.",
    "Colour at once, in a white tray, oil about 10 mm deep, neutral bright light, a fresh sample beside it.",
    "Debris first at 10 minutes, if wanted again at 60: always log the minutes.",
    "Sweep a bagged magnet. What follows it suggests spring or other steel; what glitters and does not suggests "
    "tube or bush. A magnet alone misses the tube being rubbed.",
    "Same distance, one photograph, and rate before reading the last rating.",
    "Milky (water) and burnt smell are columns of their own, never levels of colour.",
)

CAUTIONS = (
    "This report advises; it never clears a unit to ride.",
    "A leak, flakes, milkiness, binding or noise: inspect now, whatever the interval.",
    "Never past the maker's limit.",
    "A wear limit in sight means inspect, not ride on.",
    "Release air and preload before opening: springs store energy.",
    "Warm oil burns; gloves and glasses.",
    "Keep oil off discs and tyres.",
    "Used oil to a collection point by local rules.",
    "Work on suspension belongs to people trained for it.",
)

INSPECT_CAUTION = CAUTIONS[1]

SET_BY_MEANING = {
    "colour": "the chance of colour at or past its limit reaches the accepted risk first",
    "debris": "the chance of debris at or past its limit reaches the accepted risk first",
    "maker_limit": "the maker's limit, which is never passed",
    "oil_age": "the longest time that oil may stay in a unit",
    "wear": "a wear limit comes first: inspect by then",
    "data_range": "the longest fill ever drained on this spring, and a step more: nothing is known beyond",
}
