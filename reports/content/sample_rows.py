"""What to drain next, as rows for the page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from draincurve.pipeline.deciding import NextSample
from draincurve.reports.content import wording
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.unit_names import UnitNames


@dataclass(frozen=True, slots=True)
class SampleRow:
    """One drain worth having; anchor : of the unit's own section, None where it has none."""

    name: str
    anchor: str | None
    at_words: str
    past_accepted_risk: bool
    narrower_words: str
    why: str


def sample_rows(samples: Sequence[NextSample], rows: Sequence[ServiceRow], names: UnitNames) -> tuple[SampleRow, ...]:
    """Rows in the order of the list; rows : the units in service, for their anchors."""
    anchors = {row.name: row.anchor for row in rows}
    found = []
    for sample in samples:
        name = names.of(sample.unit_id, sample.site)
        whose = "the fleet's interval" if sample.of == "fleet" else "its own interval"
        found.append(
            SampleRow(
                name,
                anchors.get(name),
                wording.hours(sample.at_hours),
                sample.past_accepted_risk,
                f"{_share(sample.narrower)}, {whose}, {sample.channel}",
                sample.why,
            )
        )
    return tuple(found)


def _share(narrower: float) -> str:
    """By how much a range gets narrower, in words."""
    percent = 100.0 * (1.0 - narrower)
    if percent < 0.1:
        return "under 0.1 %"
    return f"{percent:.1f} %" if percent < 1.0 else f"{percent:.0f} %"
