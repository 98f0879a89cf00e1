"""Of a large fleet, the units that a page, a printed edition and a calendar have room for; the tables hold all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.describing.fleet_size import is_large
from pipeline.plan_result import PlanResult
from pipeline.trust_results import ChannelTrust, TurnedUnits

MOST_SHOWN = 300
"""Units of a large fleet that have a row and a section on the page."""
MOST_OF_A_KIND = 80
"""Of these so many at most for a sign, for being faster than the fleet, and for having turned; the rest is what is
due soonest."""
MOST_PATHS = 60
"""Units whose sums are drawn beside those that turned."""

_UNIT = ["unit_id", "site"]


def shown_result(result: PlanResult) -> PlanResult:
    """The result of a large fleet cut down to the units that are shown, with a warning that says so; others as is."""
    units = result.next_service.height
    if not is_large(units):
        return result
    shown = _shown(result)
    said = (
        f"This report shows {shown.height:,} of {units:,} units: those due soonest, and the first of those with a "
        "sign, faster than the fleet, or turned. Every unit stands in next_service.csv and next_service.parquet; "
        "tables.xlsx and service.ics hold the first of them only."
    )
    return replace(
        result,
        next_service=shown,
        unit_reasons=result.unit_reasons.join(shown, on=_UNIT, how="semi", nulls_equal=True),
        drains=result.drains.join(shown.select("unit_id").unique(), on="unit_id", how="semi", maintain_order="left"),
        trust=tuple(_with_few_paths(one) for one in result.trust),
        warnings=(said, *result.warnings),
    )


def _shown(result: PlanResult) -> pl.DataFrame:
    """Rows of next_service that are shown, in its order, soonest due first."""
    table = result.next_service.with_row_index("_row")
    signed = table.join(result.inspect_now, on=_UNIT, how="semi", nulls_equal=True)
    faster = table.filter(pl.col("standing") == "faster than the fleet").sort("hours_ratio", "_row")
    turned = table.filter(pl.col("turned").fill_null(False))
    kinds = [kind["_row"].head(MOST_OF_A_KIND) for kind in (signed, faster, turned)]
    wanted = pl.concat([*kinds, table["_row"]]).unique(maintain_order=True).head(MOST_SHOWN)
    return table.filter(pl.col("_row").is_in(wanted.implode())).drop("_row")


def _with_few_paths(trust: ChannelTrust) -> ChannelTrust:
    """The same with the paths of the units that are drawn; verdicts stay those of all."""
    found = trust.turned
    if found is None:
        return trust
    most = found.verdicts.filter("turned").sort("share_of_threshold", descending=True)["unit_key"].head(MOST_PATHS)
    keys = pl.Series(found.unit_keys)
    spread = np.linspace(0, len(found.unit_keys) - 1, MOST_PATHS).astype(np.int64)
    places = np.union1d(spread, np.flatnonzero(keys.is_in(most.implode()).to_numpy()))
    return replace(trust, turned=_of_units(found, places))


def _of_units(found: TurnedUnits, places: NDArray[np.int64]) -> TurnedUnits:
    """Some units' paths."""
    rows = np.concatenate([np.arange(found.starts[place], found.starts[place + 1]) for place in places])
    return replace(
        found,
        unit_keys=tuple(found.unit_keys[place] for place in places),
        starts=np.concatenate(([0], np.cumsum(np.diff(found.starts)[places]))).astype(np.int64),
        drained_on=found.drained_on[rows],
        scores=found.scores[rows],
        sums=found.sums[rows],
    )
