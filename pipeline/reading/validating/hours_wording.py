"""The wording of questions about hours on the oil, and what they propose."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.validating.usual_values import DAY, FAR_OVER, FAR_UNDER, MINUTES
from draincurve.schemas.columns import column_of

ANSWER = "Correct the cell, or keep it: yes in a column headed confirmed"


def hours_wording() -> dict[str, tuple[pl.Expr, pl.Expr | None]]:
    """By kind of question, its message and its proposal."""
    limits = column_of("drains", "oil_hours")
    ratio = pl.col("_hours") / pl.col("_usual")
    typed = pl.col("hours_basis") == "typed"
    tenfold = pl.when(typed & (ratio / 10).is_between(0.5, 2.0)).then(_typed(pl.col("_hours") / 10))
    tenth = pl.when(typed & (ratio * 10).is_between(0.5, 2.0)).then(_typed(pl.col("_hours") * 10))
    by_meter = pl.when(pl.col("hours_basis") == "meter").then(pl.format(" ({} h by the meter)", _rounded("_hours")))
    as_read = by_meter.when(pl.col("_converted")).then(pl.format(" (read as {} h)", _rounded("_hours")))
    usual = ("_whose", _rounded("_usual"), as_read.otherwise(pl.lit("")))
    asked = {
        "minutes": "hours look like minutes: {} usual is {} h{}.",
        "day": "hours look like a part of a day: {} usual is {} h{}.",
        "over": f"hours over {FAR_OVER:g} times the usual: {{}} is {{}} h{{}}. Was a service left out{{}}?",
        "under": f"hours under {FAR_UNDER:g} times the usual: {{}} is {{}} h{{}}.",
    }
    is_meters = pl.col("hours_basis") == "meter"
    or_meter = pl.when(is_meters).then(pl.lit(", or the meter replaced")).otherwise(pl.lit(""))
    filled_in = {kind: (*usual, or_meter) if kind == "over" else usual for kind in asked}
    messages: dict[str, pl.Expr] = {
        kind: pl.format(f"{text} {ANSWER}", *filled_in[kind]) for kind, text in asked.items()
    }
    since = "hours differ from the meter: it shows {} h since the drain on line {}."
    messages["meter"] = pl.format(f"{since} {ANSWER}", _rounded("off_meter_h"), "meter_since")
    messages["rising"] = pl.lit(f"hours of this unit rise at every drain: are they the meter's? {ANSWER}")
    messages["counted"] = pl.lit(f"hours rise by 1 from row to row: did a spreadsheet count on? {ANSWER}")
    messages["beside"] = pl.lit(f"most of this unit's hours look like minutes or parts of a day: are these? {ANSWER}")
    messages["split"] = pl.lit(
        "hours come from the meter of a unit that may have two names: answer that question first"
    )
    messages["long"] = pl.lit(f"hours over {limits.asked_high:g} h: are they minutes, or the meter's? {ANSWER}")
    messages["short"] = pl.lit(f"hours under {limits.asked_low:g} h: are they part of a day? {ANSWER}")
    proposals = {
        "meter": pl.when(pl.col("off_meter_h") > 0).then(_typed(pl.col("off_meter_h"))),
        "minutes": _typed(pl.col("_hours") / MINUTES),
        "day": _typed(pl.col("_hours") * DAY),
        "over": tenfold,
        "under": tenth,
    }
    return {kind: (message, proposals.get(kind)) for kind, message in messages.items()}


def _rounded(column: str) -> pl.Expr:
    return pl.col(column).round(2)


def _typed(hours: pl.Expr) -> pl.Expr:
    """Hours as one would type them: 12.5, and 12 rather than 12.0."""
    return hours.round(2).cast(pl.String).str.strip_suffix(".0")
