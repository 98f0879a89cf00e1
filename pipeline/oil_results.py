"""What is known of the oils: the hand-over from the catalogue to the prompt and the reports."""

from __future__ import annotations

from dataclasses import dataclass

SHOWN_COLD_C = 20.0
"""Temperature [C] at which every table shows a viscosity: a cold workshop."""

USUAL_C = 60.0
"""Temperature [C] of the last column unless told otherwise: oil in a unit that works (common practice)."""


@dataclass(frozen=True, slots=True)
class OilGrade:
    """One grade.

    kv40, kv100, kv_cold, kv_asked [mm2/s] : kinematic viscosity at 40 and 100 C, as given, and at SHOWN_COLD_C and
    the temperature asked for, by ASTM D341; viscosity_index : ASTM D2270, whole; each None where it is not known.
    iso_grade : ISO 3448 grade, or what the oil lies between; empty where kv40 is not known. notes : plain sentences.
    """

    oil_grade: str
    kv40: float | None
    kv100: float | None
    viscosity_index: int | None
    kv_cold: float | None
    kv_asked: float | None
    iso_grade: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SharedLabel:
    """Grades with one number in their name and viscosities at 40 C more than a fifth apart.

    ratio : the thickest over the thinnest.
    """

    number: str
    thinnest: str
    thickest: str
    ratio: float


@dataclass(frozen=True, slots=True)
class OilResult:
    """The catalogue.

    celsius : temperature [C] of kv_asked; grades : in order of viscosity at 40 C, those without one last;
    shared_labels : widest first; in_model : sentences on how oils are compared in the rating model; unknown : grades
    of the log that the catalogue does not have.
    """

    celsius: float
    grades: tuple[OilGrade, ...]
    shared_labels: tuple[SharedLabel, ...]
    in_model: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
