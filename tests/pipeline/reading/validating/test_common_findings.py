"""Findings counted by kind: the same problem with other numbers and names is one kind."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.validating.accounting import REMARKS_SCHEMA
from draincurve.pipeline.reading.validating.common_findings import common_findings


def findings(*rows: tuple[int | None, str | None, str, str]) -> pl.DataFrame:
    """Findings by line, column, value and message."""
    cells = [
        ("log.csv", line, "F01", "2026-03-04", column, value, "asked", message, None, None)
        for line, column, value, message in rows
    ]
    return pl.DataFrame(cells, schema=REMARKS_SCHEMA, orient="row")


def test_numbers_and_quoted_names_make_no_new_kind() -> None:
    found = common_findings(
        findings(
            (2, "rider", "Ann", "'Ann' may be 'Anne'"),
            (4, "oil_hours", "750", "750.0 h is over 2.5 times the usual 12.5 h"),
            (9, "oil_hours", "640", "640 h is over 2.5 times the usual 9 h"),
            (9, "oil_grade", "", "is empty"),
            (11, "rider", "Bo", "'Bo' may be 'Boe'"),
            (12, "oil_hours", "", "is empty"),
            (13, "oil_hours", "500", "500 h is over 2.5 times the usual 9 h"),
        )
    )
    assert [(kind.count, kind.line, kind.column, kind.value) for kind in found] == [
        (3, 4, "oil_hours", "750"),
        (2, 2, "rider", "Ann"),
        (1, 9, "oil_grade", ""),
        (1, 12, "oil_hours", ""),
    ]
    assert sum(kind.count for kind in found) == 7


def test_what_calls_for_an_inspection_comes_first() -> None:
    found = common_findings(
        findings((2, "rider", "A", "is new"), (3, "rider", "B", "is new"), (7, "leak", "yes", "leak: inspect now"))
    )
    assert [kind.message for kind in found] == ["leak: inspect now", "is new"]


def test_nothing_found_is_no_kind() -> None:
    assert common_findings(findings()) == ()
