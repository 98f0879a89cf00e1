"""A laboratory's report on the used oil beside an invented log, as it comes, with its truth.

One row a sample, a column for each quantity, their units in a row of their own. Values are drawn from a stream of
their own after the log is finished, so the log is the same with and without them. Iron goes with the unit's debris:
units that shed more also have more iron. What the laboratory cannot find is written as under its limit of detection.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.measured_wear import MeasuredFleet, text_table

DETECTED = 1.0
"""Least metal that the invented laboratory can find [mg/kg]."""
CORRELATION = 0.6
"""Of a unit's log rate of iron with its effect on debris."""
UNITS = {"unit_id": "", "measured_on": "", "Fe": "mg/kg", "Cu": "mg/kg", "Si": "mg/kg", "water": "mg/kg",
         "kv40": "mm2/s"}  # fmt: skip
LINES = (
    "with h hours on the oil: iron = iron_per_h x h, log sd 0.15; copper = copper_per_h x h, log sd 0.25; "
    "silicon = 3 + 0.15 x h, log sd 0.25; water = 70 mg/kg, log sd 0.35; viscosity = new x exp(-thinning_per_h x h), "
    f"log sd 0.01; metals under {DETECTED:g} mg/kg are not found; log iron_per_h has a correlation of "
    f"{CORRELATION:g} with the unit's effect on debris"
)


def debris_of(truth: Mapping[str, Any]) -> dict[str, float]:
    """True effect of each unit on debris in standard deviations; nothing where debris is not rated."""
    channel = truth["channels"].get("debris")
    if channel is None:
        return {}
    return {unit: entry["debris"]["effect"] / channel["unit_sd"] for unit, entry in truth["units"].items()}


def laboratory_report(
    drains: pl.DataFrame, *, every: int, viscosities: Mapping[str, float], debris: Mapping[str, float], seed: int
) -> MeasuredFleet:
    """Iron, copper, silicon, water and viscosity of every n-th drain of a clean log, and the oils' catalogue.

    drains : clean and typed, by date, with unit_id, drained_on, oil_hours, oil_grade; viscosities : of new oil at
    40 C [mm2/s] by its name; debris : effect of each unit in standard deviations; seed : of the fleet, from which a
    stream of its own is spawned
    """
    rng = np.random.default_rng(np.random.SeedSequence(seed).spawn(1)[0])
    rates: dict[str, dict[str, float]] = {}
    for unit in drains["unit_id"].unique().sort():
        iron_noise, copper, thinning = rng.standard_normal(3)
        iron = CORRELATION * debris.get(unit, 0.0) + float(np.sqrt(1 - CORRELATION**2)) * iron_noise
        rates[unit] = {
            "iron_per_h": round(float(0.9 * np.exp(0.35 * iron)), 4),
            "copper_per_h": round(float(0.08 * np.exp(0.5 * copper)), 4),
            "thinning_per_h": round(float(0.002 * np.exp(0.2 * thinning)), 6),
        }
    rows: list[tuple[str, ...]] = [tuple(UNITS.values())]
    sampled = drains.gather_every(every, offset=every - 1).select("unit_id", "drained_on", "oil_hours", "oil_grade")
    for unit, day, hours, oil in sampled.iter_rows():
        rate, noise = rates[unit], rng.standard_normal(5)
        rows.append((
            unit,
            str(day),
            _metal(rate["iron_per_h"] * hours * np.exp(0.15 * noise[0])),
            _metal(rate["copper_per_h"] * hours * np.exp(0.25 * noise[1])),
            _metal((3.0 + 0.15 * hours) * np.exp(0.25 * noise[2])),
            f"{70.0 * np.exp(0.35 * noise[3]):.0f}",
            f"{viscosities[oil] * np.exp(-rate['thinning_per_h'] * hours + 0.01 * noise[4]):.1f}",
        ))  # fmt: skip
    oils = text_table([(name, f"{value:g}") for name, value in viscosities.items()], ("oil_grade", "kv40"))
    return MeasuredFleet(
        {"measurements": text_table(rows, tuple(UNITS)), "oils": oils},
        {"lines": LINES, "units": {unit: rates[unit] for unit in sorted(set(sampled["unit_id"]))}},
    )


def _metal(amount: float) -> str:
    """As a laboratory writes it, in whole mg/kg."""
    return f"<{DETECTED:g}" if amount < DETECTED else f"{amount:.0f}"
