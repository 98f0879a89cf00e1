"""Rows of the table of parts: whose they are, what they limit, and what cannot be right."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.units_of_measurement import measurement_factor
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.validating.repeated_rows import without_repeats
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.quantities import ISO_CODE, QUANTITY_OF, known_quantity
from draincurve.schemas.typed_limits import typed_limit

LIMITS = ("max_hours", "max_days", "wear_limit")


def with_part_rows(working: WorkingTable) -> WorkingTable:
    """Holds back rows that belong to nothing, limit nothing or cannot be read; repeats as in other tables.

    A row is for one unit, or for all units of a kind, whose parts were fitted on days of their own. A row of a unit
    with a day of fitting alone says when its part was fitted, and the kind's row limits it.
    """
    nothing = pl.all_horizontal(pl.col(name).is_null() for name in LIMITS)
    of_kind = pl.col("unit_id").is_null() & pl.col("unit_kind").is_not_null()
    nobody = pl.col("unit_id").is_null() & pl.col("unit_kind").is_null()
    rules = (
        ("unit_id", nobody, "is empty, and so is unit_kind: write one of the two"),
        ("fitted_on", of_kind & pl.col("fitted_on").is_not_null(), "is the day of one part: name its unit"),
        ("fitted_at_h", of_kind & pl.col("fitted_at_h").is_not_null(), "is of one part: name its unit"),
        ("max_hours", nothing & (of_kind | pl.col("fitted_on").is_null()) & ~nobody,
         "is empty, and so are max_days and wear_limit: the row limits nothing; write one of them"),
        ("quantity", pl.col("quantity").is_null() & pl.col("wear_limit").is_not_null(),
         "is empty, and wear_limit is a limit of it: write what is measured"),
        ("wear_limit", pl.col("wear_limit").is_null() & pl.col("quantity").is_not_null(),
         "is empty: write the limit of the quantity, or clear the quantity"),
    )  # fmt: skip
    parsed = working.parsed.filter(~working.is_held_back)
    findings = [
        working.about_rows(parsed.filter(wrong).select("_row"), column, kind="held back", message=message)
        for column, wrong, message in rules
    ]
    findings.append(_unreadable_limits(working, parsed))
    checked = working.with_findings(*findings)
    return without_repeats(
        checked.with_parsed(checked.parsed.with_columns(_sameness())), ("_same",), what="unit or kind, part and day",
        among=~checked.is_held_back,
    ).with_parsed(working.parsed)  # fmt: skip


def _sameness() -> pl.Expr:
    """What makes two rows the same entry; blanks count."""
    names = ("unit_key", "unit_kind", "part", "fitted_on", "quantity")
    cells = [pl.col(name).cast(pl.String).fill_null("").str.to_lowercase() for name in names]
    return pl.concat_str(cells, separator="\x1f").alias("_same")


def _unreadable_limits(working: WorkingTable, parsed: pl.DataFrame) -> pl.DataFrame:
    """Limits of wear that cannot be read, or not of their quantity."""
    both = parsed.drop_nulls(["quantity", "wear_limit"])
    reasons = [
        limit_fault(quantity, limit) for quantity, limit in zip(both["quantity"], both["wear_limit"], strict=True)
    ]
    rows = both.select("_row").with_columns(pl.Series("_reason", reasons, dtype=pl.String)).drop_nulls("_reason")
    return working.about_rows(rows, "wear_limit", kind="held back", message=pl.col("_reason"))


def limit_fault(quantity: str, text: str) -> str | None:
    """Why a limit of wear cannot be used, None where it can."""
    try:
        limit = typed_limit("wear_limit", text)
    except SettingsError:
        return "is no limit: write it such as 0.35 mm, 12 to 16 mm2/s, over 3 or 10 % from new"
    name = known_quantity(quantity)
    if (limit.code is not None) != (name == ISO_CODE):
        return "does not fit: a code such as 18/16/13 limits the ISO code, and only it"
    if limit.code is not None:
        return None
    known = QUANTITY_OF.get(name or "")
    if limit.from_new:
        return None if known is not None else "is a change from new, which needs a quantity that is known here"
    if known is not None and limit.unit and measurement_factor(limit.unit, known).factor is None:
        return measurement_factor(limit.unit, known).reason
    either = known is None or known.worse == "either"
    if either and limit.side is None and len(limit.numbers) == 1:
        return f"leaves open which side is worse: write over {text} or under {text}"
    return None
