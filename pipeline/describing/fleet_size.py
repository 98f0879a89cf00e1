"""From how many units on a fleet is a large one: the one threshold of everything that is done otherwise there."""

from __future__ import annotations

LARGE_FLEET_UNITS = 2_000
"""Fleets of more units than this are worked on in blocks of units, and what needs few units runs on a sample."""

SAMPLE_UNITS = 2_500
"""Units drawn at random that stand for a large fleet where an answer needs no more of them; more than
LARGE_FLEET_UNITS, so that they too are fitted in few passes."""

BLOCK_UNITS = 1_024
"""Units worked on together in a large fleet: what is drawn for them fits in a modest piece of memory."""


def is_large(units: int) -> bool:
    """Whether a fleet of so many units is a large one."""
    return units > LARGE_FLEET_UNITS
