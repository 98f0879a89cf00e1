"""Small logs in many hands' manners, and one drain to add to them."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from pathlib import Path

import polars as pl

from draincurve.log_entry.drain_entry import EntryRules, drain_entry
from draincurve.pipeline.reading.sources import read_table
from draincurve.pipeline.reading.validating.checked_log import Log, check_log
from draincurve.schemas.settings import Settings

AS_OF = date(2026, 6, 20)
RULES = EntryRules(Settings(), AS_OF, despite_questions=True)
HEADER = (
    "unit_id",
    "drained_on",
    "oil_hours",
    "oil_grade",
    "filled_ml",
    "colour_rating",
    "debris_rating",
    "spring_type",
    "rider",
    "note",
)
DRAIN = {
    "unit_id": "F07",
    "drained_on": "2026-06-19",
    "oil_hours": "12.5",
    "oil_grade": "Fork 5",
    "colour_rating": "3",
    "debris_rating": "2",
    "spring_type": "Stepped 46",
    "rider": "Tevik",
}


def entry(**changed):
    return drain_entry(DRAIN | changed)


def rows(decimal="."):
    """A dozen drains of two units, days past the twelfth among them, so that the order of day and month shows."""
    found = []
    for number in range(12):
        day = date(2026, 1, 5) + timedelta(days=9 * number)
        hours = f"{9 + 0.7 * number:.1f}".replace(".", decimal)
        found.append(
            [
                f"F{7 + number % 2:02d}", day, hours, "Fork 5", "520", str(2 + number % 3), "2", "Stepped 46",
                ("Tevik", "Ollin")[number % 2], "",
            ]
        )  # fmt: skip
    return found


def csv_bytes(
    delimiter=",",
    decimal=".",
    newline="\n",
    bom=False,
    quoted=False,
    dated="%Y-%m-%d",
    header=HEADER,
    encoding="utf-8",
):
    text = io.StringIO()
    quoting = csv.QUOTE_ALL if quoted else csv.QUOTE_MINIMAL
    writer = csv.writer(text, delimiter=delimiter, lineterminator=newline, quoting=quoting)
    writer.writerow(header)
    for unit, day, *rest in rows(decimal):
        writer.writerow([unit, day.strftime(dated), *rest])
    return (b"\xef\xbb\xbf" if bom else b"") + text.getvalue().encode(encoding)


def write_log(folder: Path, **manner) -> Path:
    path = folder / "drains.csv"
    path.write_bytes(csv_bytes(**manner))
    return path


def checked(path: Path) -> Log:
    return check_log({"drains": read_table(path, "drains")}, RULES.settings, as_of=AS_OF)


def last_drain(path: Path) -> dict:
    """The last row of a log as `check` accepts it."""
    drains = checked(path).accepted["drains"]
    return drains.filter(pl.col("line") == drains["line"].max()).row(0, named=True)
