"""Large invented fleets as Parquet or CSV, piece by piece, so that memory does not grow with the fleet.

    python -m tests.benchmarks.large_fleet UNITS DRAINS FOLDER [csv]

The scenario is the track school, four units in a hundred planted as fast. Writes drains and units into FOLDER.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.fleet_plan import PlantedUnit
from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.scenarios import resized, scenario

SEED = 20260701
UNITS_A_PIECE = 50_000
FAST_EVERY = 25
FAST_RATIO = 0.4
TABLES = ("drains", "units")


def pieces(units: int, drains: int, seed: int = SEED) -> Iterator[dict[str, pl.DataFrame]]:
    """Tables of up to UNITS_A_PIECE units each; unit and machine names carry the piece's number."""
    rng = np.random.default_rng(seed)
    done = 0
    while done < units:
        count = min(UNITS_A_PIECE, units - done)
        share = drains * (done + count) // units - drains * done // units
        planted = tuple(PlantedUnit(unit, FAST_RATIO) for unit in range(0, count, FAST_EVERY))
        plan = replace(resized(scenario("track_school").plan(), count, drains=share), planted=planted, idle_units=0)
        tables = simulate_fleet(plan, rng).tables
        mark = pl.lit(f"{done // UNITS_A_PIECE:02d}-")
        yield {
            name: tables[name].with_columns((mark + pl.col(one)).alias(one) for one in ("unit_id", "machine"))
            for name in TABLES
        }
        done += count


def write_large_fleet(units: int, drains: int, folder: Path, kind: str = "parquet") -> None:
    """Write the fleet's tables as one file each."""
    folder.mkdir(parents=True, exist_ok=True)
    parts: dict[str, list[pl.DataFrame]] = {name: [] for name in TABLES}
    for tables in pieces(units, drains):
        for name, table in tables.items():
            parts[name].append(table)
    for name, tables_of in parts.items():
        table = pl.concat(tables_of)
        if kind == "csv":
            table.write_csv(folder / f"{name}.csv")
        else:
            table.write_parquet(folder / f"{name}.parquet")


if __name__ == "__main__":
    write_large_fleet(int(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]), *sys.argv[4:5])
