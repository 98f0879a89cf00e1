"""What was found in measured values: the hand-over from judging and deciding to the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class WearLimit:
    """At or under `low`, or at or over `high`, a value is past its limit; one of them may be None.

    unit : of both;  source : whose limit it is, in words;  text : as typed
    """

    low: float | None
    high: float | None
    unit: str
    source: str
    text: str

    @property
    def words(self) -> str:
        """The limit with its unit: 0.35 mm or more."""
        sides = ((self.low, "less"), (self.high, "more"))
        return " and ".join(
            f"{value:g}{f' {self.unit}' if self.unit else ''} or {side}" for value, side in sides if value is not None
        )

    def passed_by(self, value: float) -> bool:
        """Whether a value is at or past the limit."""
        return (self.low is not None and value <= self.low) or (self.high is not None and value >= self.high)


@dataclass(frozen=True, slots=True)
class FleetLimit:
    """A limit from the fleet's own readings: what is unusual in this fleet, never what is fit to ride.

    side : over or under;  value, low, high : the percentile with its 90 % interval;  look_from : the end of the
    interval that asks for a look sooner;  method : in words;  readings : units that gave one each
    """

    side: str
    share: float
    value: float
    low: float
    high: float
    look_from: float
    method: str
    readings: int


@dataclass(frozen=True, slots=True)
class WearFit:
    """The fitted line, in the channel's unit (its log where `log` is true) and hours.

    level : at clock 0, slope : per hour, each with its standard error;  unit_level_sd, unit_slope_sd : between
    units;  noise_sd : of a reading about its line;  note : a sentence on what the readings could not show
    """

    log: bool
    level: tuple[float, float]
    slope: tuple[float, float]
    unit_level_sd: float
    unit_slope_sd: float
    noise_sd: float
    log_likelihood: float
    effective_draws: float | None
    note: str


@dataclass(frozen=True, slots=True)
class FleetLine:
    """The fleet's line over hours, (m,) each: median of a new unit's reading and its 90 % range."""

    hours: Floats
    middle: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class UnitWear:
    """One unit in service, in one channel; hours on the clock of the channel.

    readings : of the part or oil now in question that were fitted;  last_value, last_on : the latest reading of any
    kind, None without one;  past_limit : that reading is at or past the limit
    clock_now : hours at the start of the oil that runs now (0 for what is in the oil), None where not known
    wear_hours : where the chance of a reading past the limit reaches the accepted risk, held to the data's range;
    None without a limit.  beyond_range : the range and not the line set it
    line_low, line_middle, line_high : hours at which the unit's line meets the limit, 5, 50 and 95 % points, None
    beyond the range;  allowed_h : hours on the oil that runs now until wear_hours, None where it cannot be told
    why : a plain sentence
    """

    unit_key: str
    unit_id: str
    site: str | None
    readings: int
    last_value: float | None
    last_on: date | None
    past_limit: bool
    clock_now: float | None
    wear_hours: float | None
    beyond_range: bool
    line_low: float | None
    line_middle: float | None
    line_high: float | None
    allowed_h: float | None
    why: str


@dataclass(frozen=True, slots=True)
class WearChannel:
    """One measured quantity.

    name : of the quantity;  clock : "oil" or "part";  worse : rising, falling or either
    readings : columns unit_key, unit_id, site, measured_on, clock_h [h, null where not known], value, now (whether
    it is of the part that is in the unit now)
    why_not : a sentence where there is no fit;  left_out : sentences on readings that the fit could not use
    looks : the trade's first looks in the channel's unit (look, act), None for most;  fleet_limit : or why none
    farthest_h : no wear point lies beyond these hours
    """

    name: str
    title: str
    meaning: str
    unit: str
    clock: str
    worse: str
    limit: WearLimit | None
    readings: pl.DataFrame
    why_not: str | None
    left_out: tuple[str, ...]
    fit: WearFit | None
    fleet_line: FleetLine | None
    unit_lines: dict[str, tuple[Floats, Floats]]
    units: tuple[UnitWear, ...]
    looks: tuple[float, float] | None
    fleet_limit: FleetLimit | str
    farthest_h: float | None


@dataclass(frozen=True, slots=True)
class WearResult:
    """All channels; quantities that are not known here, with their readings; limits of which nothing was measured.

    caps : columns unit_key, wear_h [h on the oil that runs now, null where no wear point is known], wear_why
    signs : columns unit_key, unit_id, site, drained_on (day of the reading), signs: past a limit, so inspect now
    """

    channels: tuple[WearChannel, ...]
    unknown: tuple[tuple[str, str, int], ...]
    unused_limits: tuple[str, ...]
    caps: pl.DataFrame
    signs: pl.DataFrame
