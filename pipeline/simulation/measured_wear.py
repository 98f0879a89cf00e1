"""Measured values, oils and parts beside an invented log, with their truth.

They are drawn from a stream of their own after the log is finished, so the log is the same with and without them.
Bushes and seals were in the unit at its first drain, with the hours that the table of parts states for that day; a
spring has the hours that the log has for it. Parts wear on straight lines over their hours, with a rate of their own
in each unit; iron rises and oil thins over the hours on the oil. A laboratory writes what it cannot find as under its
limit of detection. Volume lost is not among them: it follows from the volumes filled and drained in the log.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

DETECTED = 3.0
"""Least iron that the invented laboratory can find [mg/kg]."""
EVERY_PART, EVERY_SAMPLE = 4, 3
"""Drains from one measurement of the parts, and one sample of the oil, to the next."""
LIVES = (
    ("bushes", "", "", "bush clearance", "0.32 mm"),
    ("spring", "400", "", "spring free length", "under 462 mm"),
    ("seals", "250", "730", "", ""),
)
"""Part, the invented maker's longest hours and days, measured quantity and its limit."""


@dataclass(frozen=True, slots=True)
class MeasuredFleet:
    """Tables measurements, oils and parts in the contract's columns as text, and the truth."""

    tables: dict[str, pl.DataFrame]
    truth: dict[str, Any]


def measured_fleet(drains: pl.DataFrame, *, viscosities: dict[str, float], seed: int) -> MeasuredFleet:
    """What was measured in every fork leg of a clean log.

    drains : clean and typed, with unit_id, drained_on, oil_hours, oil_grade, spring_hours; viscosities : of new oil
    at 40 C [mm2/s] by its name; seed : of the fleet, from which a stream of its own is spawned
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed).spawn(1)[0])
    rows: list[tuple[str, ...]] = []
    parts: list[tuple[str, ...]] = []
    truth: dict[str, Any] = {}
    legs = drains.filter(pl.col("unit_id").str.starts_with("F")).sort("unit_id", "drained_on", maintain_order=True)
    for (unit,), log in legs.group_by("unit_id", maintain_order=True):
        unit_truth = {
            "bush_clearance_at_new": round(float(rng.normal(0.06, 0.008)), 4),
            "bush_clearance_per_h": round(float(0.0011 * np.exp(0.3 * rng.standard_normal())), 6),
            "spring_free_length_at_new": round(float(rng.normal(470.0, 0.4)), 2),
            "spring_free_length_per_h": round(float(-0.02 * np.exp(0.3 * rng.standard_normal())), 5),
            "iron_per_h": round(float(1.4 * np.exp(0.35 * rng.standard_normal())), 4),
            "thinning_per_h": round(float(0.003 * np.exp(0.2 * rng.standard_normal())), 6),
        }
        truth[str(unit)] = unit_truth
        start = round(float(rng.uniform(0, 30)), 1)
        on_part = start + np.cumsum(log["oil_hours"].to_numpy())
        first = str(log["drained_on"][0]), f"{on_part[0]:.1f}"
        parts += [(str(unit), *(_spring_fitted(log) if life[0] == "spring" else first), *life) for life in LIVES]
        columns = ("drained_on", "oil_hours", "oil_grade", "spring_hours")
        for number, (day, hours, oil, spring_h) in enumerate(log.select(columns).iter_rows()):
            noise = rng.standard_normal(4)
            part_h = float(on_part[number])
            if number % EVERY_PART == EVERY_PART - 1:
                clearance = (
                    unit_truth["bush_clearance_at_new"]
                    + unit_truth["bush_clearance_per_h"] * part_h
                    + 0.006 * noise[0]
                )
                length = (
                    unit_truth["spring_free_length_at_new"]
                    + unit_truth["spring_free_length_per_h"] * spring_h
                    + 0.15 * noise[1]
                )
                rows.append((str(unit), str(day), "bush clearance", f"{clearance:.3f}", "mm", f"{part_h:.1f}"))
                rows.append((str(unit), str(day), "spring free length", f"{length:.1f}", "mm", f"{spring_h:.1f}"))
            if number % EVERY_SAMPLE == EVERY_SAMPLE - 1:
                iron = unit_truth["iron_per_h"] * hours * float(np.exp(0.2 * noise[2])) - 4.0
                iron_text = f"<{DETECTED:g}" if iron < DETECTED else f"{iron:.0f}"
                kv40 = viscosities[oil] * float(np.exp(-unit_truth["thinning_per_h"] * hours + 0.01 * noise[3]))
                rows.append((str(unit), str(day), "iron", iron_text, "mg/kg", ""))
                rows.append((str(unit), str(day), "kv40", f"{kv40:.1f}", "mm2/s", ""))
    names = ("unit_id", "measured_on", "quantity", "value", "unit", "component_hours")
    measurements = text_table(sorted(rows, key=lambda row: (row[1], row[0])), names)
    oils = text_table([(name, f"{value:g}") for name, value in viscosities.items()], ("oil_grade", "kv40"))
    lives = text_table(
        parts, ("unit_id", "fitted_on", "fitted_at_h", "part", "max_hours", "max_days", "quantity", "wear_limit")
    )
    notes = {"lines": "value = at_new + per_h x hours on the part; iron = per_h x hours on the oil - 4, log sd 0.2; "
            "viscosity = new x exp(-thinning_per_h x hours on the oil)", "units": truth}  # fmt: skip
    return MeasuredFleet({"measurements": measurements, "oils": oils, "parts": lives}, notes)


def _spring_fitted(log: pl.DataFrame) -> tuple[str, str]:
    """Day of fitting of a unit's last spring, and its hours then: new at the drain before, else used at the first."""
    new = (log["spring_hours"] <= log["oil_hours"]).arg_true()
    if new.is_empty() or new[-1] == 0:
        return str(log["drained_on"][0]), f"{log['spring_hours'][0]:.1f}"
    return str(log["drained_on"][new[-1] - 1]), "0"


def text_table(rows: list[tuple[str, ...]], names: tuple[str, ...]) -> pl.DataFrame:
    """Rows of cells as a table of text."""
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")
