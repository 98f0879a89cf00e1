"""What to drain next, as rows in words."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from draincurve.pipeline.deciding import NextSample
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import UnitNames, section_anchor


@dataclass(frozen=True, slots=True)
class SampleRow:
    """One drain worth taking; anchor : of the unit's section, empty if it has none."""

    name: str
    anchor: str
    at_text: str
    past_accepted_risk: bool
    narrower_text: str
    why: str


def sample_rows(
    samples: Sequence[NextSample], names: UnitNames, *, in_service: Collection[str]
) -> tuple[SampleRow, ...]:
    """Rows in the order of the list; in_service : names of the units that have a section."""
    rows = []
    for sample in samples:
        name = names.of(sample.unit_id, sample.site)
        whose = "the fleet's interval" if sample.of == "fleet" else "its own interval"
        rows.append(
            SampleRow(
                name,
                section_anchor(name, in_service),
                wording.hours(sample.at_hours),
                sample.past_accepted_risk,
                f"{_share(sample.narrower)}, {whose}, {sample.channel}",
                sample.why,
            )
        )
    return tuple(rows)


def _share(narrower: float) -> str:
    """How much narrower a range gets, in words."""
    percent = 100.0 * (1.0 - narrower)
    if percent < 0.1:
        return "under 0.1 %"
    return f"{percent:.1f} %" if percent < 1.0 else f"{percent:.0f} %"
