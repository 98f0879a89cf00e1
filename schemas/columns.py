"""The glossary: every column of every table that comes in, with its meaning, unit, limits and their reasons."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Literal

from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel

Kind = Literal[
    "text",
    "date",
    "run hours",
    "settling time",
    "volume",
    "oil age",
    "viscosity",
    "number",
    "reading",
    "rating",
    "yes/no",
]

WORD_KINDS: tuple[Kind, ...] = ("text", "rating", "yes/no")
"""Kinds of column whose cells may hold a shop's own words."""

EARLIEST_YEAR = 1970
LONGEST_UNIT_ID = 64
TOP_UP = "top-up"
SERVICE_KINDS = ("oil", "rebuild", TOP_UP)
FREE_TEXT = ("note", "new_parts")
"""Columns of drains with long texts that are no names: line breaks may be meant, and where several headers mean one
of them, their cells are joined."""

SIGNS = ("milky", "burnt", "leak")
"""Columns of drains in which a yes means: inspect now."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    unit : unit after cleaning. required : an empty cell is held back. header_needed : the column must be there,
    though its cells may be empty. low, high : hard limits, a value outside is held back (`low` itself is
    allowed only with low_allowed). asked_low, asked_high : a value outside is kept and asked about.
    why : reason of the limits.
    """

    name: str
    meaning: str
    kind: Kind = "text"
    unit: str = ""
    required: bool = False
    header_needed: bool = False
    low: float | None = None
    low_allowed: bool = True
    high: float | None = None
    asked_low: float | None = None
    asked_high: float | None = None
    why: str = ""


UNIT_ID = Column(
    "unit_id",
    "the fork leg, shock or cartridge that was drained",
    required=True,
    why="hours and oil follow the unit, so a row without it belongs to nothing; 64 characters fit any label",
)
OIL_GRADE = Column(
    "oil_grade",
    "the oil now drained",
    required=True,
    why="oils darken at different rates, so they are distinguished",
)
FILLED = Column(
    "filled_ml",
    "oil that was put in",
    "volume",
    "ml",
    low=0,
    low_allowed=False,
    high=5000,
    why="no fork leg or shock takes 5 litres; more is a slip of the unit",
)
SPRING_TYPE = Column("spring_type", "the spring in the unit", required=True, why="springs are what is compared")
SPRING_NOW = replace(SPRING_TYPE, required=False, meaning="the spring in the unit now")
RIDER = Column("rider", "who rode on this fill", required=True, why="riders wear oil at different rates")
SITE = Column("site", "workshop or base that the unit belongs to")
MACHINE = Column("machine", "motorcycle the unit was in")
UNIT_KIND = Column("unit_kind", "kind of unit, such as the make and size of a fork: what limits of parts go by")
NOTE = Column("note", "anything else worth saying")
YES_NO = "yes or no"


def _rating(channel: Channel) -> Column:
    return Column(
        channel.rating,
        ", ".join(f"{level} {meaning}" for level, meaning in enumerate(channel.scale, start=RATING_LOW)),
        "rating",
        low=RATING_LOW,
        high=RATING_HIGH,
        why="a blank or 0 is not clean: it was not looked at",
    )


DRAINS = (
    UNIT_ID,
    Column(
        "drained_on",
        "day of the drain",
        "date",
        required=True,
        why="before 1970 or after today is a slip of the pen, and hours on oil are counted from this day",
    ),
    Column(
        "oil_hours",
        "hours run on the oil now drained",
        "run hours",
        "h",
        low=0,
        low_allowed=False,
        high=2000,
        asked_low=0.25,
        asked_high=200,
        why="oil that never ran says nothing; 2000 h is a meter reading or minutes",
    ),
    Column(
        "meter_hours",
        "reading of the hour meter at the drain",
        "run hours",
        "h",
        low=0,
        why="meters start at 0",
    ),
    OIL_GRADE,
    FILLED,
    replace(FILLED, name="drained_ml", meaning="oil that came out"),
    Column(
        "settle_hours",
        "time the sample stood before it was rated",
        "settling time",
        "h",
        low=0,
        high=2160,
        why="debris settles: ten minutes and a week are different tests; past 90 days nobody rates a sample",
    ),
    *(_rating(channel) for channel in CHANNELS),
    SPRING_TYPE,
    Column("spring_hours", "hours run on this spring", "run hours", "h", low=0, why="hours cannot be negative"),
    RIDER,
    Column("rated_by", "who rated the oil", why="blank is an unknown rater, who is not corrected for"),
    Column("surface", "ground that was ridden"),
    SITE,
    MACHINE,
    Column("chamber", "inner, outer or single: which oil of the unit this was"),
    Column("drain_method", "poured, pumped through or stripped: decides what stays behind"),
    Column(
        "service_kind",
        "oil, rebuild or top-up; blank is oil",
        why="a top-up is no drain and does not reset the oil clock",
    ),
    Column("new_parts", "parts fitted at this service"),
    NOTE,
    Column("milky", "water in the oil", "yes/no", YES_NO, why="yes: inspect now, whatever the interval"),
    Column("burnt", "the oil smells burnt", "yes/no", YES_NO, why="yes: inspect now, whatever the interval"),
    Column("leak", "the unit leaks", "yes/no", YES_NO, why="yes: inspect now, whatever the interval"),
    Column(
        "confirmed",
        "the writer has looked again: the row is right as typed",
        "yes/no",
        YES_NO,
        why="yes: the row is no longer asked about",
    ),
)

UNITS = (
    UNIT_ID,
    replace(MACHINE, meaning="motorcycle the unit is in now"),
    Column("position", "front, rear, left, right"),
    UNIT_KIND,
    SITE,
    replace(FILLED, name="fill_ml", meaning="oil the maker specifies"),
    SPRING_NOW,
    replace(OIL_GRADE, required=False, meaning="the oil in the unit now"),
    replace(RIDER, required=False, meaning="who rides it now"),
    Column(
        "max_interval_h",
        "longest hours the maker allows between oil changes",
        "run hours",
        "h",
        low=0,
        low_allowed=False,
        high=2000,
        why="the program never goes past it; past 2000 h it is a slip of the unit",
    ),
    Column(
        "max_oil_days",
        "longest time the oil may stay in the unit",
        "oil age",
        "days",
        low=0,
        low_allowed=False,
        high=3660,
        why="oil ages unridden; past ten years it is a slip of the unit",
    ),
    Column("in_service", "whether the unit is ridden now; blank is yes", "yes/no", YES_NO),
)

USAGE = (
    replace(UNIT_ID, meaning="the unit that was ridden"),
    replace(SITE, meaning="base of the unit, needed only where two units share a name"),
    Column(
        "date",
        "day of the riding",
        "date",
        required=True,
        why="a day that has not come cannot have been ridden",
    ),
    Column(
        "hours",
        "hours ridden that day; blank is unknown, never none",
        "run hours",
        "h",
        header_needed=True,
        low=0,
        asked_high=24,
        why="a day has 24 hours",
    ),
)

BOOKINGS = (
    replace(UNIT_ID, meaning="the unit that is booked"),
    replace(SITE, meaning="base of the unit, needed only where two units share a name"),
    Column("date", "day of the event", "date", required=True, why="an event without a day cannot be planned for"),
    Column(
        "hours",
        "hours planned; blank is unknown, never none",
        "run hours",
        "h",
        header_needed=True,
        low=0,
        low_allowed=False,
        high=2000,
        why="an event of no hours is no event",
    ),
    Column("event", "name of the event"),
)

OILS = (
    replace(OIL_GRADE, meaning="name of the oil, as in the log"),
    Column(
        "kv40",
        "kinematic viscosity at 40 C",
        "viscosity",
        "mm2/s",
        low=0,
        low_allowed=False,
        high=10000,
        asked_low=0.66,
        why="no oil is thinner than water, which has 0.66 mm2/s at 40 C",
    ),
    Column(
        "kv100",
        "kinematic viscosity at 100 C",
        "viscosity",
        "mm2/s",
        low=0,
        low_allowed=False,
        high=10000,
        asked_low=0.29,
        why="no oil is thinner than water, which has 0.29 mm2/s at 100 C",
    ),
    NOTE,
)

MEASUREMENTS = (
    replace(UNIT_ID, meaning="the unit that was measured"),
    Column("measured_on", "day of the measurement", "date", required=True, why="wear is judged over time"),
    Column("quantity", "what was measured", required=True, why="a number without a name says nothing"),
    Column(
        "value",
        "the reading, in the unit beside it; of a whole ISO 4406 code its first number",
        "reading",
        required=True,
        why="the reading itself",
    ),
    Column("unit", "unit of the reading: the quantity's own, or as typed where the quantity is not known"),
    Column(
        "component_hours",
        "hours run on the part since it was new or rebuilt; for what is in the oil, hours on that oil",
        "run hours",
        "h",
        low=0,
        why="hours cannot be negative",
    ),
    Column("rebuilt_on", "day from which the hours on the part count", "date"),
    replace(SITE, meaning="base of the unit, needed only where two units share a name"),
)

PARTS = (
    replace(UNIT_ID, required=False, meaning="the unit that the part is in; empty for all units of a kind", why=""),
    replace(UNIT_KIND, meaning="kind of unit that the row is for, as the register has it"),
    Column("part", "the part, such as seals or bushes", required=True, why="the limit is of a part"),
    Column("fitted_on", "day on which the part was fitted; empty where that is not known", "date"),
    Column(
        "fitted_at_h",
        "hours already on the part when it was fitted; blank is a new part",
        "run hours",
        "h",
        low=0,
        high=20_000,
        why="hours cannot be negative; past 20,000 h it is a slip of the unit",
    ),
    Column(
        "max_hours",
        "longest hours the maker allows the part to run",
        "run hours",
        "h",
        low=0,
        low_allowed=False,
        high=20_000,
        why="the program never goes past it; past 20,000 h it is a slip of the unit",
    ),
    Column(
        "max_days",
        "longest time the maker allows the part to stay in the unit",
        "oil age",
        "days",
        low=0,
        low_allowed=False,
        high=36_600,
        why="the program never goes past it; past a century it is a slip of the unit",
    ),
    Column("quantity", "measured quantity that shows the part's wear, such as bush clearance"),
    Column("wear_limit", "limit of that quantity, such as 0.35 mm or over 3"),
    replace(SITE, meaning="base of the unit, needed only where two units share a name"),
    NOTE,
)

TABLES: dict[str, tuple[Column, ...]] = {
    "drains": DRAINS,
    "units": UNITS,
    "usage": USAGE,
    "bookings": BOOKINGS,
    "oils": OILS,
    "measurements": MEASUREMENTS,
    "parts": PARTS,
}
"""The tables that come in, drains first."""


_NAMES = sorted({column.name for table in TABLES.values() for column in table if "_" in column.name}, key=len)
_ANY_NAME = re.compile(rf"\b(?:{'|'.join(reversed(_NAMES))})\b")


def columns_in_words(text: str) -> str:
    """The text with the names of columns as words, for readers who do not keep the log.

    >>> columns_in_words("8 cells in the columns drained_on (6) and settle_hours (2)")
    '8 cells in the columns drained on (6) and settle hours (2)'
    """
    return _ANY_NAME.sub(lambda found: found[0].replace("_", " "), text)


def column_of(table: str, name: str) -> Column:
    """The definition of one column of a table."""
    return next(column for column in TABLES[table] if column.name == name)
