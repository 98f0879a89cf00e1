"""The section on oil in against oil out: units that lose oil, steps, and what is usual."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.judging.volume import BALANCED, LOSES, STEP, USUAL, UnitBalance, VolumeResult
from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import section_anchor

MOST_ROWS = 20


@dataclass(frozen=True, slots=True)
class VolumeRow:
    """One unit in words; anchor : empty for a unit without a section.  urgent : to be inspected."""

    name: str
    anchor: str
    verdict: str
    missing: str
    per_hour: str
    why: str
    urgent: bool


@dataclass(frozen=True, slots=True)
class VolumeSection:
    """Units worth a look, the most striking first; sentences : about the fleet and units that are not listed."""

    rows: tuple[VolumeRow, ...]
    sentences: tuple[str, ...]


def volume_section(result: VolumeResult, *, in_service: Collection[str]) -> VolumeSection | None:
    """Volumes in words; None if no drain has both.

    in_service : names of the units that have a section; a unit's key is its name.
    """
    if not result.units:
        return None
    striking = [unit for unit in result.units if unit.verdict not in (USUAL, BALANCED)]
    shown = striking[:MOST_ROWS]
    quiet = result.verdicts.filter(pl.col("verdict").is_in((USUAL, BALANCED))).height
    unlisted = result.verdicts.height - quiet - len(shown)
    sentences = list(result.sentences)
    if quiet:
        sentences.append(
            f"{wording.counted(quiet, 'unit')} {wording.plural(quiet, 'shows', many='show')} nothing beyond what the "
            "drain method leaves behind, or changes within 2 % (noise)."
        )
    if unlisted:
        verb = wording.plural(unlisted, "is", many="are")
        sentences.append(f"{wording.counted(unlisted, 'more unit')} {verb} not listed.")
    if result.incomplete:
        sentences.append(
            f"{wording.counted(result.incomplete, 'drain')} without both volumes and hours could not be used."
        )
    return VolumeSection(tuple(_row(unit, in_service) for unit in shown), tuple(sentences))


def _row(unit: UnitBalance, in_service: Collection[str]) -> VolumeRow:
    per_hour = wording.UNKNOWN
    if unit.per_hour is not None and unit.low is not None and unit.high is not None:
        per_hour = f"{unit.per_hour:+.2f} ({unit.low:.2f} to {unit.high:.2f})"
    return VolumeRow(
        name=unit.unit_key,
        anchor=section_anchor(unit.unit_key, in_service),
        verdict=unit.verdict,
        missing=f"{unit.missing:.0f} of {unit.fill:.0f}",
        per_hour=per_hour,
        why=unit.reason,
        urgent=unit.verdict in (LOSES, STEP),
    )
