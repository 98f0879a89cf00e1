"""What a unit is called, where two sites may have a unit of the same id."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.report import Report


@dataclass(frozen=True, slots=True)
class UnitNames:
    """Ids that several units share; such a unit is named with its site, every other by its id alone."""

    shared: frozenset[str]

    def of(self, unit_id: str, site: str | None) -> str:
        """The name that stands for one unit only, as the pipeline keys it."""
        return f"{unit_id} @ {site}" if unit_id in self.shared else unit_id


def unit_names(result: Report) -> UnitNames:
    """Names for one run: an id is shared where it stands twice in service, or where the log keys it by site."""
    in_service = result.decided.next_service["unit_id"]
    shared = set(in_service.filter(in_service.is_duplicated()).to_list())
    if "unit_key" in result.described.drains.columns:
        keyed = result.described.drains.filter(pl.col("unit_key") != pl.col("unit_id"))
        shared |= set(keyed["unit_id"].to_list())
    return UnitNames(frozenset(shared))
