"""Files in which decimal commas without quotation marks have shifted the cells, and files that look like them."""

from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings

HOURS = ["12,5", "9,0", "14,7", "11,2", "8,9", "10,3", "13,4", "7,6", "12,1", "9,8"]
WHOLE = [hours.partition(",")[0] for hours in HOURS]


def checked(path, header, rows, end=""):
    lines = [header, *(f"{row}{end}" for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read(RunInputs(source_address(str(path)), date(2026, 6, 1)), Settings())


def drains(hours, form):
    """Rows of a form in which h stands for the hours, c and d for the ratings."""
    return [
        form.format(day=f"2026-03-{day + 1:02}", h=typed, c=2 + day % 3, d=1 + day % 2)
        for day, typed in enumerate(hours)
    ]


SHORT = "unit,date,hours,colour,debris,oil,spring,rider"
FORMS = [
    (f"{SHORT},note", "F1,{day},{h},{c},{d},Fork 5,Plain,Brask,", ""),
    (f"{SHORT},note,", "F1,{day},{h},{c},{d},Fork 5,Plain,Brask,", ""),
    (f"{SHORT},note", "F1,{day},{h},{c},{d},Fork 5,Plain,Brask", ""),
    ("unit,date,oil,spring,rider,hours,colour,debris,note", "F1,{day},Fork 5,Plain,Brask,{h},{c},{d}", ","),
    ("unit,date,oil,spring,rider,hours,colour,debris,note,", "F1,{day},Fork 5,Plain,Brask,{h},{c},{d},", ""),
    ("unit,date,oil,spring,rider,hours,colour,debris,note", "F1,{day},Fork 5,Plain,Brask,{h},{c},{d}", ""),
    ("unit,date,oil,spring,rider,hours,colour,note", "F1,{day},Fork 5,Plain,Brask,{h},{c},", ""),
    ("unit,date,oil,spring,rider,filled ml,hours,colour", "F1,{day},Fork 5,Plain,Brask,400,{h},{c}", ""),
]


@pytest.mark.parametrize(("header", "form", "end"), FORMS)
def test_a_shifted_file_is_held_back_row_by_row(tmp_path, header, form, end):
    log = checked(tmp_path / "log.csv", header, drains(HOURS, form), end)
    assert log.held_back_count == len(HOURS)
    said = log.reasons.filter(pl.col("message").str.starts_with("looks like a decimal comma"))
    assert said["line"].to_list() == list(range(2, len(HOURS) + 2))


@pytest.mark.parametrize(("header", "form", "end"), FORMS)
@pytest.mark.parametrize(
    "hours", [WHOLE, [f'"{hours}"' for hours in HOURS], [hours.replace(",", ".") for hours in HOURS]]
)
def test_the_same_file_with_whole_quoted_or_pointed_numbers_is_not(tmp_path, header, form, end, hours):
    full = form if form.count(",") >= header.strip(",").count(",") else f"{form},"
    log = checked(tmp_path / "log.csv", header, drains(hours, full), end)
    assert not any("decimal comma without" in message for message in log.reasons["message"])
    assert log.accounts[0].accepted == len(HOURS)


@pytest.mark.parametrize("last", ["1", "2", "12", "x"])
@pytest.mark.parametrize("end", ["", ","])
def test_numbers_in_a_last_column_do_not_make_a_file_look_shifted(tmp_path, last, end):
    header = "unit,date,oil,spring,rider,hours,colour,debris,chamber"
    rows = [f"{row},{last}" for row in drains(WHOLE, "F1,{day},Fork 5,Plain,Brask,{h},{c},{d}")]
    log = checked(tmp_path / "log.csv", header, rows, end)
    assert log.accounts[0].accepted == len(rows)


@pytest.mark.parametrize("share", [0.6, 0.9])
def test_whole_numbers_in_between_do_not_hide_it(tmp_path, share):
    header, form = "unit,date,oil,spring,rider,hours,colour,debris,note", "F1,{day},Fork 5,Plain,Brask,{h},{c},{d}"
    hours = [typed if at < share * 10 else "12" for at, typed in enumerate(HOURS)]
    log = checked(tmp_path / "log.csv", header, drains(hours, form))
    assert log.accounts[0].accepted == 0
