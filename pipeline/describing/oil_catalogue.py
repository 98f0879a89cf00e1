"""The catalogue of oils: what follows from their viscosities, and which names mislead."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import polars as pl

from draincurve.pipeline.describing.oil_labels import SharedLabel, shared_labels
from draincurve.pipeline.describing.viscosity import (
    COLDEST_C,
    HOTTEST_C,
    LEAST_KV100,
    iso_grade,
    rounded_index,
    viscosity_index,
    walther_line,
)
from draincurve.pipeline.reading import TableAccount, check_alone
from draincurve.pipeline.reading.sources import SourceAddress, read_table
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.quantities import SHOWN_COLD_C, USUAL_C
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class OilGrade:
    """One grade.

    kv40, kv100 : kinematic viscosity at 40 and 100 C [mm2/s], as given
    kv_cold, kv_asked : the same at SHOWN_COLD_C and at the temperature of the catalogue, by ASTM D341
    viscosity_index : by ASTM D2270; iso_grade : by ISO 3448, empty where kv40 is not known
    notes : plain sentences
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
class OilResult:
    """The catalogue.

    celsius : temperature of kv_asked [C]; grades : sorted by viscosity at 40 C, those without one last
    shared_labels : largest ratio first; in_model : sentences on how the rating model compares oils
    unknown : grades of the log that the catalogue lacks
    """

    celsius: float
    grades: tuple[OilGrade, ...]
    shared_labels: tuple[SharedLabel, ...]
    in_model: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CheckedOils:
    """The catalogue, its row accounting, and the rows held back (columns as in Log)."""

    catalogue: OilResult
    account: TableAccount
    held_back: pl.DataFrame


def catalogue_file(address: SourceAddress, celsius: float, *, as_of: date) -> CheckedOils:
    """The catalogue of a file of oils, of the sheet `oils` of a workbook, or of a table of a database.

    celsius : temperature [C] of the last column. Raises SourceError for a file that cannot be read, SettingsError
    for a temperature outside -40 to 150 C.
    """
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise SettingsError(f"temperature {celsius:g} C: expected {COLDEST_C:g} to {HOTTEST_C:g} C")
    rows, held_back, account = check_alone(read_table(address, "oils"), Settings(), as_of=as_of)
    return CheckedOils(oil_catalogue(rows, celsius), account, held_back)


def oil_catalogue(oils: pl.DataFrame, celsius: float = USUAL_C) -> OilResult:
    """Every grade of the oils table, thinnest first.

    oils : accepted rows; celsius : temperature of kv_asked, from -40 to 150 [C].
    """
    grades = [_grade(row, celsius) for row in oils.iter_rows(named=True)]
    labels = shared_labels([(grade.oil_grade, grade.kv40) for grade in grades if grade.kv40 is not None])
    noted = [replace(grade, notes=grade.notes + _shared_notes(grade, labels)) for grade in grades]
    return OilResult(celsius, tuple(sorted(noted, key=_thinnest_first)), labels)


def fleet_catalogue(oils: pl.DataFrame, drains: pl.DataFrame, *, in_model: tuple[str, ...]) -> OilResult:
    """The catalogue of a log's oils, with how the rating model compares them and the grades that are missing."""
    catalogue = oil_catalogue(oils)
    sentences = tuple(sentence for sentence in in_model if sentence)
    return replace(catalogue, in_model=sentences, unknown=missing_grades(catalogue, drains))


def missing_grades(result: OilResult, drains: pl.DataFrame) -> tuple[str, ...]:
    """Grades of the log that the catalogue lacks."""
    known = {grade.oil_grade for grade in result.grades}
    return tuple(sorted(set(drains["oil_grade"].drop_nulls().to_list()) - known))


def _grade(row: dict[str, Any], celsius: float) -> OilGrade:
    kv40, kv100 = row["kv40"], row["kv100"]
    both = kv40 is not None and kv100 is not None
    index = viscosity_index(kv40, kv100) if both else None
    line = walther_line(kv40, kv100) if both else None
    return OilGrade(
        oil_grade=row["oil_grade"],
        kv40=kv40,
        kv100=kv100,
        viscosity_index=None if index is None else rounded_index(index),
        kv_cold=None if line is None else line.viscosity_at(SHOWN_COLD_C),
        kv_asked=None if line is None else line.viscosity_at(celsius),
        iso_grade="" if kv40 is None else iso_grade(kv40),
        notes=tuple(_notes(kv40, kv100, row["note"])),
    )


def _notes(kv40: float | None, kv100: float | None, note: str | None) -> Iterable[str]:
    if kv40 is None and kv100 is None:
        yield "no viscosity is known: ask the maker for its data sheet"
    elif kv40 is None or kv100 is None:
        known = 40 if kv100 is None else 100
        yield f"only its viscosity at {known} C is known, so none at other temperatures can be given"
    elif kv100 < LEAST_KV100:
        yield f"under {LEAST_KV100:g} mm2/s at 100 C the standard gives no viscosity index"
    if note:
        yield note


def _shared_notes(grade: OilGrade, labels: tuple[SharedLabel, ...]) -> tuple[str, ...]:
    """Notes on a grade that is the thinnest or the thickest of a shared label."""
    notes = []
    for label in labels:
        if grade.oil_grade == label.thickest:
            notes.append(
                f"{label.ratio:.2f} times as thick at 40 C as {label.thinnest}, though both are called {label.number}"
            )
        elif grade.oil_grade == label.thinnest:
            notes.append(
                f"{label.thickest} is {label.ratio:.2f} times as thick at 40 C, though both are called {label.number}"
            )
    return tuple(notes)


def _thinnest_first(grade: OilGrade) -> tuple[bool, float, str]:
    return grade.kv40 is None, grade.kv40 or 0.0, grade.oil_grade
