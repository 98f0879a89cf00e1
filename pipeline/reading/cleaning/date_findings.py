"""What is said and asked about a whole column of dates: the order of day and month, and day numbers from 1904."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.date_cells import ReadDates
from draincurve.pipeline.reading.cleaning.far_dates import FROM_1904
from draincurve.pipeline.reading.cleaning.working_table import file_finding


def date_findings(read: ReadDates, column: str, *, cells: pl.DataFrame) -> list[pl.DataFrame]:
    """Findings about the file; cells : the texts of the column, and their lines as _line."""
    findings = []
    if (last := read.last_from_1904) is not None:
        message = (
            f"dates are a workbook's day numbers, the last {last}: counted from 1904 it is {last + FROM_1904}. "
            "If so, write them as dates"
        )
        findings.append(file_finding(column, None, kind="asked", message=message))
    for separator, settled in read.orders.items():
        if settled.contradiction is not None:
            first, second = settled.contradiction
            lines = dict(cells.select(column, "_line").reverse().iter_rows())
            beside = f", '{first}' in line {lines[first]} day first" if first else ""
            message = (
                f"dates with '{separator}' contradict each other: '{second}' in line {lines[second]} is month first"
                f"{beside}. Those that may be either are held back: correct the wrong one, or set date_order"
            )
            setting = 'date_order = ""  # "day first" or "month first"'
            findings.append(file_finding(column, second, kind="asked", message=message, setting=setting))
        if settled.order is not None and settled.proof is not None:
            marked = f" with '{separator}'" if len(read.orders) > 1 else ""
            if settled.by_today:
                message = (
                    f"dates{marked} are read {settled.order}, only since '{settled.proof}' would otherwise be in the "
                    "future or before 1970: is that right?"
                )
                setting = f'date_order = "{settled.order}"'
                findings.append(file_finding(column, settled.proof, kind="asked", message=message, setting=setting))
                continue
            message = f"dates{marked} are read {settled.order}: '{settled.proof}' is possible in no other order"
            findings.append(file_finding(column, settled.proof, kind="note", message=message))
    return findings
