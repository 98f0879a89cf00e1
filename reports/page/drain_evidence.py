"""How often a unit's drains were past the limit, beside the rest of the fleet: counts, no model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.plan_result import ChannelResult


@dataclass(frozen=True, slots=True)
class Tally:
    """Drains of one unit in one channel with a rating on one side of the limit; hours are sums [h]."""

    drains: int
    past: int
    hours: float


@dataclass(frozen=True, slots=True)
class DrainEvidence:
    """Tallies of every unit by channel, with those of the fleet."""

    by_unit: dict[str, dict[str, Tally]]
    fleet: dict[str, Tally]

    def sentence(self, unit_id: str, channel: str | None) -> str:
        """One sentence on a unit: of the given channel, or of the one where it stands out most."""
        tallies = {name: units[unit_id] for name, units in self.by_unit.items() if unit_id in units}
        if not tallies:
            return ""
        if channel not in tallies:
            channel = max(tallies, key=lambda name: tallies[name].past / tallies[name].drains)
        own, fleet = tallies[channel], self.fleet[channel]
        rest = Tally(fleet.drains - own.drains, fleet.past - own.past, fleet.hours - own.hours)
        text = f"{channel.capitalize()} was past its limit at {_share(own)}"
        return f"{text}; in the rest of the fleet at {_share(rest)}." if rest.drains else f"{text}."


def drain_evidence(channels: Sequence[ChannelResult]) -> DrainEvidence:
    """Tallies of all channels; drains whose range straddles the limit are on neither side and not counted."""
    by_unit: dict[str, dict[str, Tally]] = {}
    fleet: dict[str, Tally] = {}
    for channel in channels:
        counted = (
            channel.ratings.filter(pl.col("past_limit").is_not_null())
            .group_by("unit_id")
            .agg(
                pl.len().alias("drains"),
                pl.col("past_limit").cast(pl.Int64).sum().alias("past"),
                pl.col("oil_hours").cast(pl.Float64).sum().alias("hours"),
            )
            .sort("unit_id")
        )
        tallies = {unit: Tally(drains, past, hours) for unit, drains, past, hours in counted.iter_rows()}
        by_unit[channel.channel] = tallies
        fleet[channel.channel] = Tally(
            sum(item.drains for item in tallies.values()),
            sum(item.past for item in tallies.values()),
            sum(item.hours for item in tallies.values()),
        )
    return DrainEvidence(by_unit, fleet)


def _share(tally: Tally) -> str:
    return f"{tally.past} of {tally.drains} drains (mean {tally.hours / tally.drains:.0f} h on the oil)"
