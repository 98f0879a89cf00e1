"""The section on oils: their viscosities, and names that mislead."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.describing import OilGrade, OilResult
from draincurve.schemas.quantities import SHOWN_COLD_C

UNKNOWN = "-"


@dataclass(frozen=True, slots=True)
class OilRow:
    """One grade: its cells in the order of the headings, and notes on it."""

    cells: tuple[str, ...]
    notes: str


@dataclass(frozen=True, slots=True)
class OilsSection:
    """The catalogue as a table; sentences : about the rating model, and about grades that are not in it."""

    headings: tuple[str, ...]
    rows: tuple[OilRow, ...]
    sentences: tuple[str, ...]


def oils_section(result: OilResult | None) -> OilsSection | None:
    """The catalogue of oils in words; None without one."""
    if result is None or not result.grades:
        return None
    sentences = list(result.in_model)
    if result.unknown:
        sentences.append(f"In the log, but not in the catalogue: {', '.join(result.unknown)}.")
    rows = tuple(OilRow(oil_cells(grade), "; ".join(grade.notes)) for grade in result.grades)
    return OilsSection(oil_headings(result.celsius), rows, tuple(sentences))


def oil_headings(celsius: float) -> tuple[str, ...]:
    """Headings of the table."""
    return ("grade", "kv40", "kv100", "VI", f"kv{SHOWN_COLD_C:g}", f"kv at {celsius:g} C", "ISO 3448")


def oil_cells(grade: OilGrade) -> tuple[str, ...]:
    """Cells of one grade, in the order of the headings."""
    index = grade.viscosity_index
    return (
        grade.oil_grade,
        _viscosity(grade.kv40),
        _viscosity(grade.kv100),
        UNKNOWN if index is None else str(index),
        _viscosity(grade.kv_cold),
        _viscosity(grade.kv_asked),
        grade.iso_grade or UNKNOWN,
    )


def _viscosity(value: float | None) -> str:
    """A viscosity in mm2/s to three or four digits, as data sheets print it."""
    if value is None:
        return UNKNOWN
    return f"{value:.0f}" if value >= 1000 else f"{value:.1f}" if value >= 10 else f"{value:.2f}"
