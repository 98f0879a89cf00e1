"""Side tables that are given as files."""

from datetime import date
from pathlib import Path

import pytest

from draincurve.pipeline.reading import RunInputs, read_tables
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

HEADERS = {
    "drains": "unit_id,drained_on,oil_hours,oil_grade,colour_rating,spring_type,rider",
    "units": "unit_id,site,position,fill_ml,oil_grade",
    "usage": "unit_id,date,hours",
    "oils": "oil_grade,kv40,kv100",
}
CELLS = {"unit_id": "F01", "drained_on": "2026-03-04", "date": "2026-03-04", "oil_grade": "Fork 5", "site": "north"}


def write(folder: Path, name: str, headers: str) -> Path:
    path = folder / f"{name}.csv"
    path.write_text(f"{headers}\n{','.join(CELLS.get(header, '3') for header in headers.split(','))}\n")
    return path


def tables(folder: Path, **sides: str) -> dict:
    """Tables of a log of one drain with side tables that have these headers."""
    drains = source_address(str(write(folder, "drains", HEADERS["drains"])))
    given = {name: source_address(str(write(folder, f"given_{name}", headers))) for name, headers in sides.items()}
    return read_tables(RunInputs(drains, date(2026, 6, 20), given), Settings())


@pytest.mark.parametrize(
    ("name", "other", "shown"),
    [
        ("units", "drains", r"drains \(drained_on, colour_rating\); expected the register, one row for each unit"),
        ("units", "usage", r"usage \(date, hours\); expected the register"),
        ("oils", "drains", r"drains \(drained_on, colour_rating\); expected the oils, one row for each oil grade"),
        ("oils", "units", r"units \(fill_ml, position\); expected the oils"),
    ],
)
def test_another_table_is_no_register_and_no_list_of_oils(tmp_path: Path, name: str, other: str, shown: str) -> None:
    with pytest.raises(SourceError, match=rf"{name}: given_{name}.csv has the columns of a table of {shown}"):
        tables(tmp_path, **{name: HEADERS[other]})


@pytest.mark.parametrize(
    ("name", "headers"),
    [
        *((name, HEADERS[name]) for name in ("units", "usage", "oils")),
        ("units", "unit_id"),
        ("units", "unit_id,oil_grade"),
        ("units", "unit_id,position,drained_on,oil_hours"),
        ("oils", "oil_grade"),
    ],
)
def test_a_table_of_its_own_kind_is_read(tmp_path: Path, name: str, headers: str) -> None:
    assert tables(tmp_path, **{name: headers})[name].frame.height == 1
