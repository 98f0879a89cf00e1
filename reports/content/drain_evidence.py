"""How often a unit's drains were past the limit, compared with the rest of the fleet: counts, no model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.judging import ChannelResult
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import UnitNames
from draincurve.schemas.channels import title_of


@dataclass(frozen=True, slots=True)
class Tally:
    """Drains in one channel whose rating is on one side of the limit; hours : on the oil, summed [h]."""

    drains: int
    past: int
    hours: float


@dataclass(frozen=True, slots=True)
class DrainEvidence:
    """Tallies of every unit by channel, with those of the fleet."""

    by_unit: dict[str, dict[str, Tally]]
    fleet: dict[str, Tally]

    def sentence(self, name: str) -> str:
        """One sentence on a unit in the channel where it differs most; empty without a rated drain."""
        excesses = [(self._excess(channel, name), channel) for channel in self.fleet if name in self.by_unit[channel]]
        return self.channel_sentence(max(excesses)[1], name) if excesses else ""

    def channel_sentence(self, channel: str, name: str) -> str:
        """One sentence on a unit in one channel."""
        of_unit, rest = self.by_unit[channel][name], self._rest(channel, name)
        text = f"{title_of(channel)} was past its limit at {_share(of_unit)}"
        return f"{text}; in the rest of the fleet at {_share(rest)}." if rest.drains else f"{text}."

    def sentences(self, name: str) -> tuple[str, ...]:
        """One sentence for each channel in which the unit has a rated drain."""
        return tuple(self.channel_sentence(channel, name) for channel in self.fleet if name in self.by_unit[channel])

    def _excess(self, channel: str, name: str) -> float:
        of_unit, rest = self.by_unit[channel][name], self._rest(channel, name)
        return of_unit.past / of_unit.drains - (rest.past / rest.drains if rest.drains else 0.0)

    def _rest(self, channel: str, name: str) -> Tally:
        of_unit, fleet = self.by_unit[channel][name], self.fleet[channel]
        return Tally(fleet.drains - of_unit.drains, fleet.past - of_unit.past, fleet.hours - of_unit.hours)


def drain_evidence(channels: Sequence[ChannelResult], names: UnitNames) -> DrainEvidence:
    """Tallies of all channels; drains rated as a range that straddles the limit are not counted."""
    by_unit: dict[str, dict[str, Tally]] = {}
    fleet: dict[str, Tally] = {}
    for channel in channels:
        tallies: dict[str, Tally] = {}
        counted = (
            channel.ratings.filter(pl.col("past_limit").is_not_null())
            .group_by("unit_id", "site", maintain_order=True)
            .agg(
                pl.len().alias("drains"),
                pl.col("past_limit").cast(pl.Int64).sum().alias("past"),
                pl.col("oil_hours").cast(pl.Float64).sum().alias("hours"),
            )
        )
        for unit_id, site, drains, past, hours in counted.iter_rows():
            name = names.of(unit_id, site)
            known = tallies.get(name, Tally(0, 0, 0.0))
            tallies[name] = Tally(known.drains + drains, known.past + past, known.hours + hours)
        by_unit[channel.channel] = tallies
        fleet[channel.channel] = Tally(
            sum(item.drains for item in tallies.values()),
            sum(item.past for item in tallies.values()),
            sum(item.hours for item in tallies.values()),
        )
    return DrainEvidence(by_unit, fleet)


def _share(tally: Tally) -> str:
    past, drains = wording.grouped(tally.past), wording.grouped(tally.drains)
    return f"{past} of {drains} drains (mean {tally.hours / tally.drains:.0f} h on the oil)"
