"""Questions about rows that are kept, and notes on what was assumed for them."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.note_signs import SIGNS_IN_QUESTION
from draincurve.pipeline.reading.cleaning.safety_words import INSPECT_NOW
from draincurve.pipeline.reading.cleaning.word_cells import read_yes_no
from draincurve.pipeline.reading.cleaning.working_table import (
    WorkingTable,
    file_finding,
    line_label,
    row_findings,
)
from draincurve.schemas.channels import CHANNELS, level_columns
from draincurve.schemas.columns import SIGNS, TABLES
from draincurve.schemas.service_kinds import is_oil_change

SPRING_FITTED = r"(?i)spring|feder|ressort|molla|molle|muelle"
"""A spring among the new parts, in five languages."""
OIL_PUT_BACK = (
    r"(?i)\bback in\b|\bpoured back\b|\bsame oil back\b|\boil not changed\b|\b(?:only checked|check only)\b"
    r"|\b(?:only|just) topped\b|\bnur nachgef[uü]llt|\bsolo rabbocc|\bsolo rellen|\bseulement compl[eé]t"
    r"|\b(?:did not|didn'?t) change (?:the )?oil\b|\bno oil change\b"
    r"|\bwieder (?:hin)?eingef[uü]llt|\b[oö]l wieder (?:ein|rein)|\b[oö]l nicht gewechselt"
    r"|\bnur (?:kontrolle|kontrolliert)|\bhuile remise|\bvidange non faite|\bolio rimesso|\baceite (?:de)?vuelto"
)
"""A note that says that the old oil stayed or went back, in five languages."""
FEWEST_SAME = 5
"""Number of equal ratings, of one rater or of the log, from which it is asked whether anyone looks."""


def with_limit_questions(working: WorkingTable) -> WorkingTable:
    """Asks about values outside the limits from which the glossary asks."""
    pieces = []
    for column in TABLES[working.table]:
        if column.name == "oil_hours":
            continue  # see hours_questions
        value = pl.col(column.name)
        if column.asked_high is not None:
            text = f"is over {column.asked_high:g} {column.unit}: is that right?"
            pieces.append(_question(working, column.name, when=value > column.asked_high, message=text))
        if column.asked_low is not None:
            text = f"is under {column.asked_low:g} {column.unit}: is that right?"
            when = value.is_between(0, column.asked_low, closed="none")
            pieces.append(_question(working, column.name, when=when, message=text))
    return working.with_findings(*pieces)


def with_drain_questions(working: WorkingTable) -> WorkingTable:
    """Asks about hours on the spring (column spring_in_question), about signs, and about oil that was put back."""
    fitted = pl.col("new_parts").cast(pl.String).str.contains(SPRING_FITTED).fill_null(False)
    younger = (pl.col("spring_hours") < pl.col("oil_hours")) & ~fitted
    spring = (
        "hours on the spring under those on the oil: was it changed? Then name it in new_parts, else confirm the row"
    )
    put_back = pl.col("note").str.contains(OIL_PUT_BACK) & is_oil_change()
    same_oil = "did the old oil go back in? Then write top-up under service_kind; now it counts as a change of oil"
    confirmed = pl.col("confirmed").fill_null(False)
    marked = working.parsed.with_columns((younger.fill_null(False) & ~confirmed).alias("spring_in_question"))
    return working.with_parsed(marked).with_findings(
        _question(working, "spring_hours", when=younger, message=spring),
        _question(working, "note", when=put_back, message=same_oil),
        *[_sign_found(working, sign) for sign in SIGNS],
    )


def with_rating_questions(working: WorkingTable) -> WorkingTable:
    """Asks where all ratings of the log, or of one rater, are the same."""
    kept = working.parsed.select("_row", *level_columns(), "rated_by").filter(~working.is_held_back)
    pieces: list[pl.DataFrame] = []
    for channel in CHANNELS:
        low, high = channel.low, channel.high
        rated = kept.filter(pl.col(low).is_not_null()).select(low, high, "rated_by")
        constant = (pl.col(low).min() == pl.col(low).max()) & (pl.col(high).min() == pl.col(high).max())
        if rated.height >= FEWEST_SAME and rated.select(constant).item():
            level = rated.item(0, low)
            text = f"all {rated.height} ratings are {level}: does anyone look?"
            pieces.append(file_finding(channel.rating, str(level), kind="asked", message=text))
            continue
        by_rater = (
            rated.drop_nulls("rated_by")
            .group_by("rated_by")
            .agg(pl.len().alias("drains"), constant.alias("constant"), pl.col(low).first())
            .filter(pl.col("constant") & (pl.col("drains") >= FEWEST_SAME))
            .sort("rated_by")
        )
        for rater, drains, _, level in by_rater.iter_rows():
            text = f"all {drains} ratings by {rater} are {level}: are they looked at?"
            pieces.append(file_finding(channel.rating, rater, kind="asked", message=text))
    return working.with_findings(*pieces)


def with_settling_note(working: WorkingTable, standard_hours: float) -> WorkingTable:
    """Counts the rated drains without a settling time, for which the shop's standard [h] is assumed."""
    rated = pl.any_horizontal(pl.col(channel.low).is_not_null() for channel in CHANNELS)
    kept = working.parsed.select("_row", "settle_hours", rated.alias("_rated")).filter(
        pl.col("_rated") & ~working.is_held_back
    )
    unnamed = kept.get_column("settle_hours").null_count()
    if not unnamed:
        return working
    message = (
        f"{unnamed} of {kept.height} rated drains name no settling time: the shop's standard of {standard_hours:g} h "
        "is assumed"
    )
    return working.with_findings(file_finding("settle_hours", None, kind="note", message=message))


def with_same_day_questions(working: WorkingTable) -> WorkingTable:
    """Asks about a unit that is entered twice on one day. Both rows count, since fewer hours would be unsafe."""
    twice = (
        working.parsed.drop_nulls(["unit_key", "date"])
        .filter(pl.struct("unit_key", "date", "hours").is_duplicated())
        .sort("_row")
        .with_columns(line_label().alias("_label"))
        .with_columns(pl.col("_row", "_label").first().over("unit_key", "date", "hours").name.prefix("_first"))
        .filter(pl.col("_row") != pl.col("_first_row"))
        .select("_row", "_first_label")
    )
    message = pl.format("is the same as line {}: is it a copy? Both are counted", "_first_label")
    return working.with_findings(working.about_rows(twice, "unit_id", kind="asked", message=message))


def with_missing_hours_questions(working: WorkingTable) -> WorkingTable:
    """Asks for the hours of riding days and bookings that have none; unknown hours are never no hours."""
    message = "is empty: how many hours were they? Unknown hours count as many, never as none"
    return working.with_findings(_question(working, "hours", when=pl.col("hours").is_null(), message=message))


def without_confirmed(working: WorkingTable) -> WorkingTable:
    """Takes back the questions about rows that their writer has confirmed. Signs still call for an inspection."""
    confirmed = working.parsed_where(pl.col("confirmed").fill_null(False), "_row").to_series()
    if not confirmed.len():
        return working
    answered = (pl.col("kind") == "asked") & ~pl.col("column").is_in(SIGNS) & pl.col("row").is_in(confirmed.implode())
    return replace(working, findings=working.findings.filter(~answered.fill_null(False)))


def _sign_found(working: WorkingTable, sign: str) -> pl.DataFrame:
    """A call to inspect for each row with a sign; its value is the sign's cell, or the note where that says no.

    Whether a drain cleared it is known only when those of all the unit's names are put together.
    """
    cells = [
        (pl.col(name) if name in working.raw.columns else pl.lit(None, pl.String)).alias(f"_{name}")
        for name in (sign, "note")
    ]
    is_asked = pl.col(SIGNS_IN_QUESTION).str.split(",").list.contains(sign).fill_null(False)
    unread = working.findings.filter(pl.col("kind").is_in(["held back", "asked"]), column=sign)["row"]
    rows = working.parsed_where(
        pl.col(sign).fill_null(False) & ~is_asked & ~pl.col("_row").is_in(unread.implode()),
        "_row",
        "unit_key",
        "drained_on",
    )
    told = rows.join(working.raw.select("_row", *cells), on="_row", how="left")
    denied = read_yes_no(told[f"_{sign}"].cast(pl.String), sign)["value"].eq(False).fill_null(False)
    value = pl.when(denied).then("_note").otherwise(pl.coalesce(f"_{sign}", "_note")).alias(sign)
    last = working.parsed.group_by("unit_key").agg(pl.col("drained_on").max().alias("_last"))
    dated = told.select("_row", "unit_key", "drained_on", value).join(
        last, on="unit_key", how="left", maintain_order="left"
    )
    is_last = (pl.col("drained_on") >= pl.col("_last")).fill_null(True)
    message = pl.when(is_last).then(pl.lit(INSPECT_NOW)).otherwise(pl.lit(f"{INSPECT_NOW}, unless cleared since"))
    return row_findings(dated, sign, kind="asked", message=message)


def _question(working: WorkingTable, column: str, *, when: pl.Expr, message: str | pl.Expr) -> pl.DataFrame:
    """A question about a column of each row for which `when` is true of the parsed values."""
    text = pl.lit(message) if isinstance(message, str) else message
    rows = working.parsed_where(when.fill_null(False), "_row", text.alias("_message"))
    return working.about_rows(rows, column, kind="asked", message=pl.col("_message"))
