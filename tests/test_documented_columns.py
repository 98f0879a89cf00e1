"""Every column of the optional tables is in the document that explains it."""

from pathlib import Path

import pytest

from draincurve.schemas.input_tables import TABLES

DOCUMENT = Path(__file__).parents[1] / "docs" / "other_tables.md"


@pytest.mark.parametrize("table", ["units", "usage", "bookings", "oils"])
def test_columns_are_explained(table: str) -> None:
    lines = DOCUMENT.read_text(encoding="utf-8").splitlines()
    explained = {name for line in lines if line.startswith("| ") for name in line.split("|")[1].strip().split(", ")}
    assert not {column.name for column in TABLES[table]} - explained
