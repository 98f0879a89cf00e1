"""Fixed texts of the trade: how to look, what sheds more means, cautions, what sets an interval."""

from __future__ import annotations

from typing import NamedTuple

from draincurve.schemas.channels import CHANNELS, channel_names

HOW_TO_LOOK = (
    "Drain warm, pump the rod, stir.",
    *(line for channel in CHANNELS for line in channel.how_to_look),
    "Same distance, one photograph, and rate before reading the last rating.",
    "Milky (water) and burnt smell are columns of their own, never levels of colour.",
)

SHEDS_MORE = "; ".join(
    (
        "Sheds more means fewer hours until the oil is dirty",
        *(
            f"for {channel.name}, read it as {channel.high_rating[0]} sooner"
            for channel in CHANNELS
            if channel.high_rating is not None
        ),
    )
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

INSPECT_CAUTION = f"Do not ride these units until the cause is found, even if their oil is not due. {CAUTIONS[1]}"

SIGN_STAYS = "A sign stays until a later drain says no under it, rates the debris lower, or is a rebuild."

NO_DRAIN_YET = (
    "No drain logged yet: the values are those of the fleet for its spring, oil, rider and site, as far as they are "
    "known, with wide ranges. Its first drain, by these hours at the latest, tells its own."
)
ONLY_SPRING_AND_OIL = (
    "For a unit of which only spring and oil are known. A unit in service has an interval of its own in the table of "
    "all units, longer where its rider, site and conditions are known."
)


class SetBy(NamedTuple):
    """A value of the column `set_by`: its label in the report, and what it means."""

    label: str
    meaning: str


def range_of_oil(between: str, set_by: str | None) -> str:
    """A range of hours at the accepted risk, named as the oil's where something else sets the interval beside it."""
    return between if not between or set_by in channel_names() else f"oil alone {between}"


SET_BY = {
    **{
        name: SetBy(name, f"the chance that the oil is past fit reaches the accepted risk; {name} gives most of it")
        for name in channel_names()
    },
    "maker_limit": SetBy("maker's limit", "the maker's limit, which is never passed"),
    "oil_age": SetBy("oil age", "the longest time that oil may stay in a unit"),
    "wear": SetBy("wear", "a wear limit comes first: inspect by then"),
    "data_range": SetBy(
        "longest fill seen",
        "the longest fill ever drained on this spring, and a step more: nothing is known beyond",
    ),
}
