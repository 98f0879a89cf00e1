"""Parts with lives through the whole program: dates by hours, days and wear, beside those of the oil."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest
from small_logs import AS_OF, simple_log

from draincurve.reports.output.output_folder import OUTPUT_FILES

DAY = date.fromisoformat(AS_OF)
PARTS = [
    {"unit_kind": "leg", "part": "seals", "max_hours": "500", "max_days": "4000"},
    {"unit_kind": "leg", "part": "bushes", "quantity": "bush clearance", "wear_limit": "0.14 mm"},
    {"unit_id": "U01", "part": "seals", "fitted_on": (DAY - timedelta(days=60)).isoformat(), "max_hours": "20"},
    {"unit_id": "U02", "part": "seals", "fitted_on": (DAY - timedelta(days=60)).isoformat(), "max_days": "65"},
    {"unit_id": "U03", "part": "cartridge", "max_days": "700"},
    {"unit_id": "U03", "part": "rod"},
]
MEASURED = [
    {"unit_id": unit, "measured_on": (DAY - timedelta(days=10 * back)).isoformat(), "quantity": "bush clearance",
     "value": round(0.08 + slope * hours + 0.002 * (back % 2), 4), "unit": "mm", "component_hours": hours}
    for unit, slope in (("U01", 0.0006), ("U02", 0.0002))
    for back, hours in enumerate((120, 100, 80, 60, 40, 20), start=1)
]  # fmt: skip


@pytest.fixture(scope="module")
def names() -> list[str]:
    return ["unit_id", "unit_kind", "part", "fitted_on", "max_hours", "max_days", "quantity", "wear_limit"]


def test_parts_have_dates_and_visits(run, write, names) -> None:
    rows = [{name: row.get(name) for name in names} for row in PARTS]
    units = [{"unit_id": unit, "unit_kind": "Leg"} for unit in ("U01", "U02")]
    found = run(
        "plan", write("log.csv", simple_log(3, 8)), "--units", write("units.csv", units), "--as-of", AS_OF,
        "--parts", write("parts.csv", rows), "--measurements", write("measurements.csv", MEASURED), page=True,
    )  # fmt: skip
    assert found.status == 3, "the row that limits nothing is held back"
    table = found.table("parts")
    by = {(row["unit_id"], row["part"]): row for row in table.iter_rows(named=True)}
    assert set(by) == {("U01", "seals"), ("U02", "seals"), ("U01", "bushes"), ("U02", "bushes"), ("U03", "cartridge")}
    assert by["U01", "seals"]["max_hours"] == 20, "the shorter of the unit's and its kind's"
    assert by["U01", "seals"]["set_by"] == "maker's hours"
    assert by["U02", "seals"]["set_by"] == "maker's days"
    assert by["U02", "seals"]["due_on"] <= DAY + timedelta(days=5)
    assert by["U03", "cartridge"]["due_on"] == DAY, "its age is limited and not known"
    assert by["U01", "bushes"]["set_by"] == by["U02", "bushes"]["set_by"] == "wear"
    assert "bush clearance" in by["U02", "bushes"]["why"]
    assert by["U01", "bushes"]["hours_left"] <= by["U02", "bushes"]["hours_left"]
    rebuilds = found.table("forecast").filter(pl.col("item") == "rebuilds")
    assert rebuilds["expected"][0] >= 1, "the cartridge of unknown age is due in the first week"
    assert rebuilds["expected"][-1] <= 3, "a unit is rebuilt once"
    assert (table["visit_on"] <= table["due_on"]).all()
    assert {file.name for file in found.folder.iterdir()} <= set(OUTPUT_FILES), "a later plan takes each away"
    record = found.record()
    assert len(record["parts"]) == table.height
    assert {channel["quantity"] for channel in record["wear"]["quantities"]} == {"bush_clearance"}
    assert {channel["limit_from"] for channel in record["wear"]["quantities"]} == {"the limit of its bushes"}
    account = next(item for item in record["inputs"] if item["table"] == "parts")
    assert (account["read"], account["accepted"], account["held_back"]) == (6, 5, 1)
    assert pl.read_excel(found.folder / "tables.xlsx", sheet_name="parts", engine="openpyxl").height == table.height


@pytest.mark.usefixtures("without_evidence")
def test_rows_that_the_log_contradicts_are_asked_about_and_lengthen_nothing(run, write, names) -> None:
    """A spring that is older by the drains is due by those hours; rows of a unit that nobody knows are counted."""
    drains = [row | {"spring_hours": round(300 + at, 1)} for at, row in enumerate(simple_log(3, 8))]
    fitted = (DAY - timedelta(days=45)).isoformat()
    rows = [{"unit_id": unit, "part": "spring", "fitted_on": fitted, "max_hours": "320"} for unit in ("U01", "Ghost")]
    parts = write("parts.csv", [{name: row.get(name) for name in names} for row in rows])
    usage = write("usage.csv", [{"unit_id": "Ghost", "date": f"2026-06-0{day}", "hours": "2"} for day in (1, 2)])
    log = write("log.csv", drains)
    checked = run("check", log, "--parts", parts, "--usage", usage, "--as-of", AS_OF)
    words = " ".join(checked.printed.split())
    assert "where hours on the spring are 300.0: correct the wrong one" in words
    assert "Ghost: is no unit of the drains or the register, so this row counts for nothing" in words
    assert "so its 2 rows here count for nothing" in words
    found = run("plan", log, "--parts", parts, "--usage", usage, "--as-of", AS_OF, page=False)
    assert found.record()["asked"]["count"] == 3
    (part,) = found.table("parts").iter_rows(named=True)
    assert part["unit_id"] == "U01"
    assert part["hours_now"] >= 300
    assert part["hours_left"] <= 20
