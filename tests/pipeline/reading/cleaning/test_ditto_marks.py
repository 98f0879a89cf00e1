"""Ditto marks take the cell above them, or are held back."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.ditto_marks import without_dittos
from draincurve.pipeline.reading.cleaning.parsed_columns import distinct_texts


def resolved(column: str, *cells: str | None) -> tuple[list[str | None], list[tuple]]:
    texts, positions = distinct_texts(pl.Series(cells, dtype=pl.String))
    rows = pl.Series(range(len(cells)), dtype=pl.UInt32)
    meant, findings = without_dittos(column, texts, positions, rows=rows)
    found = pl.concat(findings).sort("row").select("row", "kind").rows() if findings else []
    return texts[meant].to_list(), found


@pytest.mark.parametrize("mark", ['"', "''", "〃", ",,", "do", "Do.", "id.", "IDEM", "dto", "ditto", " dito "])
def test_a_mark_repeats_the_cell_above(mark: str) -> None:
    meant, found = resolved("spring_type", "Plain", mark, mark, "Soft", mark)
    assert meant == ["Plain", "Plain", "Plain", "Soft", "Soft"]
    assert found == [(1, "note"), (2, "note"), (4, "note")]


@pytest.mark.parametrize("above", [None, "", " ", "?", "n/a"])
def test_a_mark_below_an_empty_cell_is_held_back(above: str | None) -> None:
    _, found = resolved("rider", "Brask", above, '"', '"', "Tevik", '"')
    assert found == [(2, "held back"), (3, "held back"), (5, "note")]


def test_a_mark_in_the_first_row_is_held_back() -> None:
    _, found = resolved("rider", '"', '"', "Brask")
    assert found == [(0, "held back"), (1, "held back")]


@pytest.mark.parametrize("column", ["rider", "rated_by"])
def test_initials_are_no_marks(column: str) -> None:
    assert resolved(column, "KB", "id", "DO") == (["KB", "id", "DO"], [])


def test_a_column_without_marks_is_left_alone() -> None:
    assert resolved("note", "a", None, "a") == (["a", None, "a"], [])
