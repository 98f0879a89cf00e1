"""ISO 3448 viscosity grade of an oil: its viscosity at 40 C within 10 % of the grade's middle."""

from __future__ import annotations

MIDDLES = (
    2.2, 3.2, 4.6, 6.8, 10.0, 15.0, 22.0, 32.0, 46.0, 68.0, 100.0, 150.0, 220.0, 320.0, 460.0, 680.0, 1000.0, 1500.0,
    2200.0, 3200.0,
)  # fmt: skip
"""Middle of each grade at 40 C [mm2/s]; the grade is named by it, rounded to a whole number."""

TOLERANCE = 0.1


def grade_limits(middle: float) -> tuple[float, float]:
    """Lowest and highest viscosity [mm2/s] at 40 C that a grade may have."""
    return round(middle * (1 - TOLERANCE), 4), round(middle * (1 + TOLERANCE), 4)


def grade_name(middle: float) -> str:
    """The grade's name, such as "VG 32"."""
    return f"VG {middle:.0f}"


def iso_grade(kv40: float) -> str:
    """The grade an oil falls in, or what it lies between: "VG 32", "between VG 15 and VG 22", "under VG 2"."""
    for middle in MIDDLES:
        low, high = grade_limits(middle)
        if low <= kv40 <= high:
            return grade_name(middle)
    below = [middle for middle in MIDDLES if middle < kv40]
    if not below:
        return f"under {grade_name(MIDDLES[0])}"
    if len(below) == len(MIDDLES):
        return f"over {grade_name(MIDDLES[-1])}"
    return f"between {grade_name(below[-1])} and {grade_name(MIDDLES[len(below)])}"
