"""What a unit is called, where two sites may have a unit of the same id, and the anchor of its section."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Container
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.plan_result import PlanResult


@dataclass(frozen=True, slots=True)
class UnitNames:
    """Ids that several units share; such a unit is named with its site, every other by its id alone."""

    shared: frozenset[str]

    def of(self, unit_id: str, site: str | None) -> str:
        """The name of one unit only, the same as its key in the pipeline."""
        return f"{unit_id} @ {site}" if unit_id in self.shared else unit_id


def unit_names(result: PlanResult) -> UnitNames:
    """Names for one run: an id is shared if two units in service have it, or if the log keys it by site."""
    in_service = result.decided.next_service["unit_id"]
    shared = set(in_service.filter(in_service.is_duplicated()).to_list())
    if "unit_key" in result.described.drains.columns:
        keyed = result.described.drains.filter(pl.col("unit_key") != pl.col("unit_id"))
        shared |= set(keyed["unit_id"].to_list())
    return UnitNames(frozenset(shared))


def anchor(name: str) -> str:
    """A fragment name for a unit, plain letters whatever its id holds, and the same in every report."""
    readable = re.sub(r"[^a-z0-9]+", "-", name.casefold())[:24].strip("-")
    digest = hashlib.sha256(name.encode("utf-8", "surrogatepass")).hexdigest()[:6]
    return f"unit-{readable}-{digest}" if readable else f"unit-{digest}"


def section_anchor(name: str, in_service: Container[str]) -> str:
    """The anchor of a unit's section; empty for a unit that is not in service and has none."""
    return anchor(name) if name in in_service else ""
