"""What measured values show: of one quantity, of its units, and of the whole log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.describing import WearLimit
from draincurve.pipeline.fitting.degradation import WearFit
from draincurve.pipeline.judging import FleetLimit
from draincurve.schemas.array_types import Floats


@dataclass(frozen=True, slots=True)
class FleetLine:
    """The fleet's line over hours, (m,) each: median of a new unit's reading and its 90 % range."""

    hours: Floats
    middle: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class UnitWear:
    """One unit in service and one quantity; hours on the clock of the quantity.

    readings : of the part or oil now in question that were fitted;  last_value, last_on : the latest reading of any
    kind, None without one;  last_bound : "under" or "over" where it is only known to be that;  past_limit : that
    reading is at or past the limit
    clock_now : hours at the start of the oil that runs now (0 for what is in the oil), None where not known
    wear_hours : where the probability of a reading past the limit reaches the accepted risk, within the data's range;
    None without a limit.  beyond_range : the range and not the line set it
    line_low, line_middle, line_high : hours at which the unit's line meets the limit, 5, 50 and 95 % points, None
    beyond the range;  allowed_h : hours on the oil that runs now until wear_hours, None where it is not known
    why : a plain sentence;  why_run : the same once these hours have been run on the oil that runs now
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
    why_run: str
    last_bound: str | None = None

    @property
    def over_h(self) -> float | None:
        """Hours from wear_hours to the start of the oil that runs now; None where they were not run by then."""
        if self.clock_now is None or self.wear_hours is None or self.clock_now <= self.wear_hours:
            return None
        return self.clock_now - self.wear_hours


@dataclass(frozen=True, slots=True)
class QuantityWear:
    """One measured quantity.

    name : of the quantity;  clock : "oil" or "part";  worse : rising, falling or either
    readings : columns unit_key, unit_id, site, measured_on, clock_h [h, null where not known], value, now (whether
    it is of the part that is in the unit now)
    why_not : a sentence where there is no fit;  left_out : sentences on readings that the fit could not use
    looks : the trade's first looks in the unit of the quantity (look, act), None for most;  fleet_limit : or why none
    farthest_h : upper bound of the wear points [h]
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
    """The wear of all quantities.

    unknown : quantities that are not known here, with unit and number of readings
    unused_limits : limits of which nothing was measured
    caps : columns unit_key, wear_h [h on the oil that runs now, null where no wear point is known], wear_why,
    wear_why_run, wear_over_h [h, null where the wear point was not reached before this oil was filled]
    signs : columns unit_key, unit_id, site, drained_on (day of the reading), signs: past a limit, so inspect now
    """

    quantities: tuple[QuantityWear, ...]
    unknown: tuple[tuple[str, str, int], ...]
    unused_limits: tuple[str, ...]
    caps: pl.DataFrame
    signs: pl.DataFrame
