"""The section on parts whose life is limited."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
from invented_report import AS_OF, HOSTILE
from page_part import page_part

from draincurve.reports.content.sections.parts_section import MOST_ROWS, parts_section
from draincurve.reports.content.unit_names import UnitNames, anchor
from draincurve.schemas.parts_table import Parts

NAMES = UnitNames(frozenset())
FORK = {
    "unit_id": "F01", "site": None, "part": "bushes", "fitted_on": date(2026, 1, 5), "hours_now": 33.04,
    "hours_from": "day of fitting", "max_hours": 40.0, "max_days": 365.0, "hours_left": 6.96,
    "set_by": "maker's hours", "due_on": AS_OF + timedelta(9), "due_on_early": AS_OF + timedelta(5),
    "due_on_late": AS_OF + timedelta(12), "due_before": None, "visit_on": AS_OF + timedelta(8),
    "visit_with": "service, seals", "why": "said",
}  # fmt: skip


def found(*changes: dict[str, object]):
    schema = {name: column.dtype.type for name, column in Parts.to_schema().columns.items()}
    return parts_section(
        pl.DataFrame([FORK | change for change in changes], schema=schema), NAMES, in_service={"F01"}, as_of=AS_OF
    )


def test_a_part_is_shown_with_what_limits_it_and_its_visit() -> None:
    section = found({})
    (row,) = section.rows
    assert (row.name, row.anchor, row.part) == ("F01", anchor("F01"), "bushes")
    assert (row.hours, row.hours_from, row.life, row.left) == (
        "33.0 h", "since the day of fitting", "40 h or 365 days", "7.0 h left",
    )  # fmt: skip
    assert (row.due, row.due_range, row.due_now) == ("by Fri 22 May", "18 to 25 May", False)
    assert (row.visit, row.visit_with) == ("21 May", "with service, seals")
    assert section.due_now == 0


def test_what_is_over_due_now_or_not_known_is_said() -> None:
    over, unlimited, booked = found(
        {"due_on": AS_OF, "hours_left": -3.0},
        {"set_by": None, "due_on": None, "hours_now": None, "hours_left": None, "hours_from": "at least the log's"},
        {"due_before": FORK["due_on"]},
    ).rows
    assert (over.due, over.due_now, over.left, over.due_range) == ("due now", True, "3.0 h over", "")
    assert (unlimited.due, unlimited.set_by, unlimited.hours, unlimited.hours_from) == (
        "", "nothing limits it", "not known", "at least",
    )  # fmt: skip
    assert booked.due == "before Fri 22 May"


def test_many_parts_are_cut_and_counted_and_names_are_text() -> None:
    section = found({"unit_id": HOSTILE[0], "part": HOSTILE[1], "due_on": AS_OF}, *[{}] * (MOST_ROWS + 1))
    assert (len(section.rows), section.due_now, section.more) == (MOST_ROWS, 1, "2 more parts in parts.csv.")
    page = page_part("parts", part_lives=section)
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


def test_no_table_of_parts_is_no_section() -> None:
    assert parts_section(None, NAMES, in_service=set(), as_of=AS_OF) is None
    assert page_part("parts", part_lives=None).strip() == ""
