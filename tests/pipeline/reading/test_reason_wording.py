"""Reasons and questions as a technician reads them: short, each once, and with what to do."""

from __future__ import annotations

import re
from datetime import date, timedelta

import polars as pl
import pytest

from draincurve.pipeline.reading import Log, check_log
from draincurve.pipeline.reading.sources import LINE, SourceTable
from draincurve.schemas.settings import Settings

AS_OF = date(2026, 6, 20)
TELLS = re.compile(r": |; |\? |\?$|^inspect now")
LONGEST = 160
"""Two lines of a terminal 80 columns wide."""
GOOD = {
    "unit_id": "F01",
    "drained_on": "2026-03-01",
    "oil_hours": "12",
    "meter_hours": "",
    "oil_grade": "Fork 5",
    "filled_ml": "500",
    "drained_ml": "490",
    "settle_hours": "0.2",
    "colour_rating": "2",
    "debris_rating": "2",
    "spring_type": "Plain 46",
    "spring_hours": "40",
    "rider": "Brask",
    "rated_by": "Ollin",
    "service_kind": "oil",
    "note": "",
    "milky": "",
    "burnt": "",
    "leak": "",
}
BAD = {
    "unit_id": ("", "F" * 80, "F1 (left)", "FO1", "f\n01", "N" * 250),
    "drained_on": (
        "",
        "tomorrow",
        "2026-13-05",
        "2027-01-01",
        "1969-05-05",
        "3.4",
        "March",
        "31/02/2026",
        "05/20/26",
    ),
    "oil_hours": (
        "",
        "0",
        "-3",
        "2500",
        "750",
        "0.52",
        "lots",
        "=1+1",
        "1h75",
        "12 ml",
        "1,234.5",
        "1,234",
        "12 - 14",
    ),
    "meter_hours": ("-4", "many"),
    "oil_grade": ("", "5W", "SAE 5", "O" * 250),
    "filled_ml": ("0", "9000", "half", "12 h", "2", "0.5 l"),
    "drained_ml": ("700", "200", "510", "-1"),
    "settle_hours": ("-1", "9999", "soon"),
    "colour_rating": ("0", "9", "2.4", "teal", "3-1", "4/5", "2/5", "2026-02-03", "x" * 90),
    "debris_rating": ("7", "some", "5-2"),
    "spring_type": ("", "Plain-46", "Plian 46"),
    "spring_hours": ("-2", "3", "old"),
    "rider": ("", "Bask", "R" * 210),
    "service_kind": ("polish",),
    "milky": ("see note", "yes"),
    "leak": ("perhaps", "see note", "yes"),
    "note": ("leaking seal", "milky! water in oil", "do not use"),
}


def table(name: str, rows: list[dict[str, str]]) -> SourceTable:
    cells = {column: [row.get(column) or None for row in rows] for column in rows[0]}
    frame = pl.DataFrame(cells, schema=dict.fromkeys(cells, pl.String))
    lines = pl.Series(LINE, range(2, len(rows) + 2), dtype=pl.Int64)
    return SourceTable(name, f"{name}.csv", "", frame.with_columns(lines))


@pytest.fixture(scope="module")
def log() -> Log:
    """A log with every bad cell in a row of its own, one row with all of them, copies, and side tables."""
    drains, day = [], date(2025, 1, 1)
    spoilt = [{}, *({column: text} for column, texts in BAD.items() for text in texts)]
    for number, bad in enumerate([*spoilt, *[{}] * 30]):
        row = {
            **GOOD,
            "unit_id": f"F{1 + number % 4:02d}",
            "drained_on": (day + timedelta(days=5 * number)).isoformat(),
        }
        drains.append({**row, "oil_hours": str(11 + number % 3), "debris_rating": str(1 + number % 3), **bad})
    drains.append({column: texts[0] for column, texts in BAD.items()} | {"rated_by": "", "burnt": "?"})
    drains += [drains[0], {**drains[-40], "oil_grade": "Fork 7"}]
    usage = [
        {"unit_id": "F01", "date": "2026-06-01", "hours": "2"},
        {"unit_id": "F01", "date": "2026-06-01", "hours": "2"},
        {"unit_id": "F02", "date": "someday", "hours": ""},
    ]
    units = [{"unit_id": "F01", "max_interval_h": "forty"}, {"unit_id": "F01", "max_interval_h": "40"}]
    oils = [{"oil_grade": "Fork 5", "kv40": "20", "kv100": "30"}, {"oil_grade": "", "kv40": "x", "kv100": ""}]
    measured = [
        {"unit_id": "F01", "measured_on": "2026-05-01", "quantity": quantity, "value": value, "unit": unit}
        for quantity, value, unit in (
            ("iron", "18/16/13", ""),
            ("iron", "20", "mm"),
            ("iron (ppm)", "20", "%"),
            ("iron", "9000000", "ppm"),
            ("particle count", "13/16/18", ""),
            ("free length", "3 km", ""),
            ("smell", "4", "points"),
        )
    ]
    tables = {"drains": drains, "units": units, "usage": usage, "oils": oils, "measurements": measured}
    return check_log({name: table(name, rows) for name, rows in tables.items()}, Settings(), as_of=AS_OF)


@pytest.fixture(scope="module")
def messages(log: Log) -> pl.DataFrame:
    found = pl.concat([log.reasons, log.remarks])
    assert found.filter(pl.col("kind") == "held back").get_column("message").n_unique() > 35
    return found


def test_every_message_fits_on_two_short_lines(messages: pl.DataFrame) -> None:
    assert [
        text for text in messages.get_column("message") if len(text) > LONGEST or text != " ".join(text.split())
    ] == []


def test_every_reason_and_question_says_what_is_expected_or_what_to_do(messages: pl.DataFrame) -> None:
    texts = messages.filter(pl.col("kind") != "note").get_column("message").unique(maintain_order=True)
    assert [text for text in texts if not TELLS.search(text)] == []


def test_no_reason_is_given_twice_for_a_row(log: Log, messages: pl.DataFrame) -> None:
    rows = messages.drop_nulls("line").select("source", "line", "column", "message", "kind")
    assert rows.height == rows.unique().height
    for reason in log.held_back.get_column("reason"):
        parts = reason.split("; ")
        assert len(parts) == len(set(parts))


def test_a_row_has_one_question_about_one_cell(messages: pl.DataFrame) -> None:
    asked = messages.filter((pl.col("kind") == "asked") & pl.col("line").is_not_null())
    twice = asked.filter(pl.struct("source", "line", "column").is_duplicated())
    assert twice.select("line", "column", "message").rows() == []


def test_proposals_and_settings_are_what_they_say(messages: pl.DataFrame) -> None:
    import tomllib

    for text in messages.get_column("setting").drop_nulls().unique():
        assert tomllib.loads(text)
    assert not messages.filter(pl.col("proposal") == pl.col("value")).height
