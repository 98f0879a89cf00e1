"""The page's section on oils: what their viscosities say, and which names mislead."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.describing.oil_catalogue import OilResult
from draincurve.reports.oil_lines import cells, headings


@dataclass(frozen=True, slots=True)
class OilRow:
    """One grade: its cells under the headings, and what to know of it."""

    cells: tuple[str, ...]
    notes: str


@dataclass(frozen=True, slots=True)
class OilsSection:
    """The catalogue as a table; `sentences` on the rating model and on grades that it lacks."""

    headings: tuple[str, ...]
    rows: tuple[OilRow, ...]
    sentences: tuple[str, ...]


def oils_section(result: OilResult | None) -> OilsSection | None:
    """Everything the page says about oils; None without a catalogue."""
    if result is None or not result.grades:
        return None
    said = list(result.in_model)
    if result.unknown:
        said.append(f"In the log, but not in the catalogue: {', '.join(result.unknown)}.")
    rows = tuple(OilRow(cells(grade), "; ".join(grade.notes)) for grade in result.grades)
    return OilsSection(headings(result.celsius), rows, tuple(said))
