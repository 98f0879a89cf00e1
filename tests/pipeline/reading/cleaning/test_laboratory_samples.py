"""Wide tables of a laboratory: each value is a row, and every row ends in exactly one place."""

from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.schemas.settings import Settings

DRAIN = {"unit_id": "F07", "drained_on": "2026-03-04"}
UNITS = {"Lab no": None, "Unit": None, "Sample date": None, "Fe": "ppm", "Water": "%", "kv40": "cSt", "ISO": None}


def sample(number, *values, on="2026-03-04", unit="F07"):
    return dict(zip(UNITS, (number, unit, on, *values), strict=True))


def values(log):
    rows = log.accepted["measurements"].sort("line", "quantity")
    return rows.select("line", "quantity", "value", "unit", "bound").rows()


def account(log):
    found = next(item for item in log.accounts if item.table == "measurements")
    assert found.read == found.accepted + found.held_back
    return found.read, found.accepted, found.held_back


def test_each_value_is_a_row_in_the_unit_of_its_column(check, messages):
    rows = [
        UNITS | {"ISO": "-"},
        sample("1", "30", "0.02", "14,2", "n/a"),
        sample("2", "<1", None, "-", "", unit="F08"),
    ]
    renamed = [{("particle code" if name == "ISO" else name): cell for name, cell in row.items()} for row in rows]
    log = check(DRAIN, DRAIN | {"unit_id": "F08"}, measurements=renamed)
    assert values(log) == [
        (3, "iron", 30.0, "mg/kg", None),
        (3, "viscosity_40", 14.2, "mm2/s", None),
        (3, "water", 200.0, "mg/kg", None),
        (4, "iron", 1.0, "mg/kg", "under"),
    ]
    assert account(log) == (4, 4, 0)
    assert "line 2 holds the units of the columns" in messages(log)
    assert "column 'Lab no' is not known and is not used" in messages(log)


def test_one_bad_value_costs_no_other_of_its_sample(check):
    rows = [{"unit_id": "F07", "date": "2026-03-04", "Fe (ppm)": "30", "Cu [mg/kg]": "many", "code": "18/16/13"},
            {"unit_id": "F07", "date": "2026-03-05", "Fe (ppm)": "n/a", "Cu [mg/kg]": "", "code": None},
            {"unit_id": "F07", "date": "2027-03-05", "Fe (ppm)": "31", "Cu [mg/kg]": "4", "code": None}]  # fmt: skip
    log = check(
        DRAIN, measurements=[{("cleanliness" if k == "code" else k): v for k, v in row.items()} for row in rows]
    )
    assert [row[1:3] for row in values(log)] == [("iron", 30.0), ("iso_code", 18.0)]
    assert account(log) == (6, 2, 4)
    held = log.held_back.sort("line", "column").select("line", "column").rows()
    assert held == [(2, "value"), (3, ""), (4, "measured_on"), (4, "measured_on")]
    assert log.held_back.filter(pl.col("line") == 3)["reason"][0].startswith("the sample has no value")


def test_the_shops_own_names_of_quantities_make_columns_too(check):
    rows = [{"unit_id": "F07", "date": "2026-03-04", "Abrieb": "30", "PQ": "12", "colour": "x"}]
    settings = Settings(words={"quantity": {"Abrieb": "iron"}}, wear_limits={"PQ": "over 40"})
    log = check(DRAIN, measurements=rows, settings=settings)
    assert [row[1:3] for row in values(log)] == [("PQ", 12.0), ("iron", 30.0)]


def test_the_header_is_found_below_titles(tmp_path: Path):
    path = tmp_path / "lab.csv"
    path.write_text(
        "Report 12,,,,,,\nfor the bench,,,,,,\nunit_id,date,Fe,Cu,Al,Si,water\nF07,2026-03-04,3,1,1,2,90\n"
    )
    table = read_csv_file(path, "measurements", ReadingOptions(columns_of=header_columns(Settings())))
    assert table.typed_headers[2:4] == ("Fe", "Cu")
    assert table.frame.height == 1
