"""Titles that name the unit of the rows below them are read as units, where every title may be one."""

from datetime import date
from pathlib import Path

import pytest

from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.pipeline.reading.validating.checked_log import Log
from draincurve.schemas.errors import HeaderError
from draincurve.schemas.settings import Settings

HEADER = "Date,Hours,Oil,Colour,Debris,Spring,Rider"


def rows(month: int) -> list[str]:
    return [f"2026-0{month}-{day:02d},{9 + (day * month) % 5},Tarn 5,{day % 3 + 1},2,Plain,Brask" for day in (3, 13)]


def checked(folder: Path, *lines: str) -> Log:
    path = folder / "log.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read(RunInputs(source_address(str(path)), date(2026, 6, 20)), Settings())


BLANK_UNITS = [f",{row}" for month in (1, 2) for row in rows(month)]


@pytest.mark.parametrize(
    ("lines", "units"),
    [
        ((HEADER, "F01", *rows(1), "F02", *rows(2)), ("F01", "F02")),
        ((HEADER, "F01,,,,,,", *rows(1), "", "S2:,,,,,,", *rows(2)), ("F01", "S2")),
        (("Log 2026", "F01", HEADER, *rows(1), "F02", HEADER, *rows(2)), ("F01", "F02")),
        (
            (HEADER, "Fork 1 left", *rows(1), "Fork 2 right", *rows(2), "Total,99,,,,,"),
            ("Fork 1 left", "Fork 2 right"),
        ),
        ((f"Unit,{HEADER}", "F01,,,,,,,", *BLANK_UNITS[:2], "F02", *BLANK_UNITS[2:]), ("F01", "F02")),
    ],
)
def test_titles_are_units(tmp_path: Path, lines: tuple[str, ...], units: tuple[str, str]) -> None:
    log = checked(tmp_path, *lines)
    drains = log.accepted["drains"].sort("line")
    assert drains["unit_id"].cast(str).to_list() == [units[0], units[0], units[1], units[1]]
    assert log.faulty_count == 0
    assert any(f"titles above the rows are read as units, '{units[0]}', " in note for note in log.notes["message"])


@pytest.mark.parametrize(
    "lines",
    [
        (HEADER, "F01", *rows(1), "Team A", *rows(2)),
        (HEADER, "January 2026", *rows(1), "February 2026", *rows(2)),
        (HEADER, *rows(1), "F02", *rows(2), "F03", *rows(3)),
        (HEADER, "F01", *rows(1), "see note 3", *rows(2)),
        (HEADER, "F01", *rows(1)),
    ],
)
def test_other_titles_are_not(tmp_path: Path, lines: tuple[str, ...]) -> None:
    with pytest.raises(HeaderError, match="unit_id missing"):
        checked(tmp_path, *lines)


def test_a_title_is_no_unit_of_rows_that_have_one(tmp_path: Path) -> None:
    named = [f"F0{month},{row}" for month in (1, 2) for row in rows(month)]
    log = checked(tmp_path, f"Unit,{HEADER}", "Z8", *named[:2], "Z9", *named[2:])
    assert set(log.accepted["drains"]["unit_id"].cast(str)) == {"F01", "F02"}
