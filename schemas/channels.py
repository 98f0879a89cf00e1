"""The rated channels. A channel is one entry of CHANNELS; columns, settings, options, cards and pages follow from it.

This module imports nothing of the project, so that any other may import it.
"""

from __future__ import annotations

from dataclasses import dataclass

RATING_LOW, RATING_HIGH = 1, 5
RATING_LEVELS = RATING_HIGH - RATING_LOW + 1
"""Ratings run from 1 (as poured, nothing found) to 5 (opaque, flakes)."""


@dataclass(frozen=True, slots=True)
class Sign:
    """What a rating of `level` or more shows: inspect now, whatever the interval."""

    name: str
    level: int


@dataclass(frozen=True, slots=True)
class Channel:
    """What is rated at a drain, from 1 to 5.

    name : one lower-case word; it names columns, settings and an option, and is the channel's word in sentences
    title : the same at the head of a section or a sentence
    scale : what each rating means, 1 first
    headers : what shops write above its column besides its name, separated by commas
    shop_word : example of a shop's own word for a rating, and the rating
    how_to_look : instructions for the bench
    high_rating : what a spring that sheds more does to it, where that is not shedding itself: as a verb ("darkens the
        oil") and as a noun ("darkening it")
    default_limit : rating at or over which oil is past fit
    sign : what a high rating shows beyond oil that is past fit
    measured_by : quantities of the oil that show the same condition of a unit, the best first
    """

    name: str
    title: str
    scale: tuple[str, str, str, str, str]
    headers: str
    shop_word: tuple[str, str]
    how_to_look: tuple[str, ...] = ()
    high_rating: tuple[str, str] | None = None
    default_limit: int = 4
    sign: Sign | None = None
    measured_by: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not (self.name.isascii() and self.name.isalpha() and self.name.islower()):
            raise ValueError(f"channel {self.name!r}: expected a name of one lower-case word")
        if len(self.scale) != RATING_LEVELS:
            raise ValueError(f"channel {self.name}: {len(self.scale)} meanings for {RATING_LEVELS} ratings")
        if not RATING_LOW < self.default_limit <= RATING_HIGH:
            raise ValueError(f"channel {self.name}: limit {self.default_limit}; expected 2 to {RATING_HIGH}")

    @property
    def rating(self) -> str:
        """Name of its column in a log, and of its limit in the settings."""
        return f"{self.name}_rating"

    @property
    def low(self) -> str:
        """Column of the lowest level that its rating may mean."""
        return f"{self.name}_low"

    @property
    def high(self) -> str:
        """Column of the highest level that its rating may mean."""
        return f"{self.name}_high"

    @property
    def in_question(self) -> str:
        """Column of accepted drains: whether it is asked which end of the scale is the clean one."""
        return f"{self.name}_in_question"

    @property
    def option(self) -> str:
        """Option of `draincurve add` that gives its rating."""
        return f"--{self.name}"

    @property
    def words(self) -> str:
        """Name of the table of the shop's own words in the settings."""
        return f"{self.name}_words"


CHANNELS: tuple[Channel, ...] = (
    Channel(
        name="colour",
        title="Colour",
        scale=(
            "as poured",
            "tinted but bright",
            "clouded, tray base still clear",
            "dark, base hard to see",
            "opaque or muddy",
        ),
        headers="color, color rating, oil colour, oil color, rating colour, rating color, shade",
        shop_word=("grey", "3-4"),
        how_to_look=(
            "Colour at once, in a white tray, oil about 10 mm deep, neutral bright light, a fresh sample beside it.",
        ),
        high_rating=("darkens the oil", "darkening it"),
        measured_by=("viscosity_40", "viscosity_100"),
    ),
    Channel(
        name="debris",
        title="Debris",
        scale=(
            "none found",
            "faint shimmer when tilted",
            "glitter without tilting",
            "settled streak, or fuzz on the magnet",
            "single flakes or slivers",
        ),
        headers="metal, metal rating, particles, glitter, swarf, rating debris, dirt",
        shop_word=("fuzz", "4"),
        how_to_look=(
            "Debris first at 10 minutes, if wanted again at 60: always log the minutes.",
            "Sweep a bagged magnet. What follows it suggests spring or other steel; what glitters and does not "
            "suggests tube or bush. A magnet alone misses the tube being rubbed.",
        ),
        sign=Sign("flakes", 5),
        measured_by=("iron",),
    ),
)
"""In the order in which they are shown."""


def channel_names() -> tuple[str, ...]:
    """Names of the channels, in order."""
    return tuple(channel.name for channel in CHANNELS)


def level_columns() -> tuple[str, ...]:
    """Columns of the lowest and the highest level of every channel, in order."""
    return tuple(column for channel in CHANNELS for column in (channel.low, channel.high))


def channel_named(name: str) -> Channel:
    """The entry of a name; raises KeyError for any other."""
    return {channel.name: channel for channel in CHANNELS}[name]


def title_of(name: str) -> str:
    """The channel's word at the head of a section or a sentence."""
    return channel_named(name).title
