"""Rows about the same thing: copies, contradictions, and one drain rated by several people.

Identical rows are one: the copies are held back. Rows that agree on all but ratings, rater and note, and name
different raters, are one drain rated more than once: the first stays a drain, and the others are set apart as second
ratings, so that no fill of oil counts twice. Rows that differ otherwise contradict each other and are all held back.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.note_signs import NOTE_SIGN_COLUMNS, SIGNS_IN_QUESTION
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import OWN_COLUMNS, WorkingTable, line_label
from draincurve.schemas.channels import CHANNELS, level_columns
from draincurve.schemas.columns import TABLES

MAY_DIFFER = ("rated_by", "note", *level_columns(), *NOTE_SIGN_COLUMNS, SIGNS_IN_QUESTION)
"""Columns in which a second rating may differ from its drain."""


def split_second_ratings(drains: WorkingTable, reference: str | None) -> tuple[WorkingTable, WorkingTable]:
    """(drains, second ratings), each with the findings about its rows; those about the file stay with the drains.

    A row is a second rating only where both rows rate the same channel, nobody rates twice, and neither row is held
    back; other rows stay with the drains. reference : the rater whose eye the limits follow, whose row is the drain
    unless another shows a sign. Second ratings have two more columns, drain_line and drain_source (null in
    a table of one file), which say where their drain is.
    """
    second_rows = _second_ratings(drains, reference)
    is_second = pl.col("_row").is_in(second_rows["_row"].implode())
    second = _part(drains, is_second)
    second = second.with_parsed(second.parsed.join(second_rows.drop("_drain_label"), on="_row", how="left"))
    message = pl.format(
        "rates the drain in line {} a second time: it compares raters, and is no further drain", "_drain_label"
    )
    about = second.about_rows(second_rows, "rated_by", kind="note", message=message)
    rest = drains
    if second_rows.height:
        about_file = drains.findings.filter(pl.col("row").is_null())
        rest = _part(drains, ~is_second).with_findings(about_file)
    return rest, second.with_findings(about)


def without_repeats(
    working: WorkingTable, same: tuple[str, ...], *, what: str, among: pl.Expr | None = None
) -> WorkingTable:
    """Holds back copies and contradictions.

    same : columns that make two rows the same entry. Rows with a blank in any of them are left alone, and so are rows
    that do not fit the header, whose cells may be shifted. what : these columns in words. among : rows to compare,
    None for all. The first of identical rows is kept. Rows that differ are all held back, each naming the lines of
    the others.
    """
    wanted = ~working.is_uneven if among is None else ~working.is_uneven & among
    compared = working.parsed.select("_row", *same, wanted.alias("_wanted")).filter("_wanted").drop_nulls(list(same))
    repeated = compared.filter(pl.struct(same).is_duplicated())["_row"]
    if not repeated.len():
        return working
    rows = working.parsed.filter(pl.col("_row").is_in(repeated.implode()))
    content = _content(working, rows)
    keyed = rows.select(*same, "_row", line_label().alias("_label")).with_columns(content.alias("_content"))
    entries = [*same, "_content"]
    keyed = keyed.sort("_row").with_columns(pl.col("_row", "_label").first().over(entries).name.prefix("_first"))
    copies = keyed.filter(pl.col("_row") != pl.col("_first_row"))
    different = keyed.filter(pl.col("_content").n_unique().over(same) > 1)
    firsts = different.filter(pl.col("_row") == pl.col("_first_row"))
    others = (
        firsts.join(firsts.select(*same, "_row", "_label"), on=list(same), suffix="_other")
        .filter(pl.col("_row") != pl.col("_row_other"))
        .sort("_row", "_row_other")
        .group_by("_row", maintain_order=True)
        .agg(pl.col("_label_other").str.join(", ").alias("_lines"))
    )
    raters = (_by_several_raters(rows, same), _differing(rows, same), _rated_in_parts(rows, same))
    others = others.join(rows.select("_row", *raters), on="_row", how="left")
    copy = pl.format("is a copy of line {}: delete one of the two", "_first_label")
    contradiction = pl.format(
        f"has the same {what} as line {{}}, but differs: {{}}",
        "_lines",
        pl.when("_several_raters")
        .then(pl.lit("two ratings of one oil differ in rater and ratings only, and these must be readable"))
        .when("_in_parts")
        .then(pl.lit("one rates what the other does not: write both ratings in one row"))
        .otherwise(pl.lit("keep the right one")),
    )
    column = "unit_id" if "unit_id" in working.raw.columns else "oil_grade"
    findings = [working.about_rows(copies.select("_row", "_first_label"), column, kind="held back", message=copy)]
    others = others.with_columns(
        pl.when("_several_raters").then("_differs").otherwise(pl.lit(column)).alias("_column")
    )
    for named in others["_column"].unique().sort():
        about = others.filter(pl.col("_column") == named)
        findings.append(working.about_rows(about, named, kind="held back", message=contradiction))
    return working.with_findings(*findings)


def _by_several_raters(rows: pl.DataFrame, same: tuple[str, ...]) -> pl.Expr:
    """Whether each of the rows that are the same entry names a rater of its own."""
    if "rated_by" not in rows.columns:
        return pl.lit(False).alias("_several_raters")
    different_raters = (pl.col("rated_by").n_unique() == pl.len()) & pl.col("rated_by").is_not_null().all()
    return different_raters.over(same).alias("_several_raters")


def _rated_in_parts(rows: pl.DataFrame, same: tuple[str, ...]) -> pl.Expr:
    """Whether each of the rows that are the same entry rates another channel, as where each has a row of its own."""
    rated = [pl.col(channel.low).is_not_null() for channel in CHANNELS if channel.low in rows.columns]
    if not rated:
        return pl.lit(False).alias("_in_parts")
    each_one = (pl.sum_horizontal(rated) == 1).all().over(same)
    return (each_one & pl.all_horizontal(one.sum().over(same) <= 1 for one in rated)).alias("_in_parts")


def _differing(rows: pl.DataFrame, same: tuple[str, ...]) -> pl.Expr:
    """The column in which ratings of one oil differ though they must not, or the rating that one of them lacks."""
    equal = [
        column.name for column in TABLES["drains"] if column.name in rows.columns and column.name not in MAY_DIFFER
    ]
    differ = [pl.when(pl.col(name).n_unique().over(same) > 1).then(pl.lit(name)) for name in equal]
    lacking = [
        pl.when(pl.col(channel.low).is_null().any().over(same)).then(pl.lit(channel.rating))
        for channel in CHANNELS
        if channel.low in rows.columns
    ]
    return pl.coalesce(*differ, *lacking, pl.lit("rated_by")).alias("_differs")


def _second_ratings(drains: WorkingTable, reference: str | None) -> pl.DataFrame:
    """Rows that rate a drain again: _row, and drain_line, drain_source and _drain_label of their drain."""
    same = [name for name in drains.parsed.columns if name not in (*MAY_DIFFER, *OWN_COLUMNS)]
    days = (
        drains.parsed.select("_row", "unit_key", "drained_on", "rated_by", "oil_hours", "meter_hours")
        .filter(~drains.is_held_back, pl.col("oil_hours").is_not_null() | pl.col("meter_hours").is_not_null())
        .drop_nulls(["unit_key", "drained_on", "rated_by"])
    )
    # All columns are compared only for rows that share their day, which are few.
    shared = days.filter(pl.struct("unit_key", "drained_on").is_duplicated())["_row"]
    rows = drains.parsed.filter(pl.col("_row").is_in(shared.implode()))
    # The row that shows a sign stays the drain, else the reference rater's, else the one that was written first.
    signs = [pl.col(channel.high) >= channel.sign.level for channel in CHANNELS if channel.sign is not None]
    shows_sign = pl.any_horizontal(*signs, *NOTE_SIGN_COLUMNS).fill_null(False)
    names = [] if reference is None else [name for name in rows["rated_by"].unique() if _is_rater(name, reference)]
    by_reference = pl.col("rated_by").is_in(names).fill_null(False)
    rated_by_all = [pl.col(channel.low).is_not_null().all().over(same) for channel in CHANNELS]
    return (
        rows.sort(shows_sign, by_reference, pl.col("_row"), descending=[True, True, False])
        .with_columns(line_label().alias("_label"))
        .with_columns(
            pl.col("_row").first().over(same).alias("_drain_row"),
            pl.col("_line").first().over(same).cast(pl.Int64).alias("drain_line"),
            pl.col("_source").first().over(same).alias("drain_source"),
            pl.col("_label").first().over(same).alias("_drain_label"),
        )
        .filter(
            (pl.len().over(same) == pl.col("rated_by").n_unique().over(same))
            & pl.any_horizontal(rated_by_all)
            & (pl.col("_row") != pl.col("_drain_row"))
        )
        .sort("_row")
        .select("_row", "drain_line", "drain_source", "_drain_label")
    )


def _is_rater(name: str | None, reference: str) -> bool:
    """Whether a rater's name is that of the reference rater, but for case, spaces and punctuation."""
    return name is not None and spelling_key(name) == spelling_key(reference)


def _part(working: WorkingTable, wanted: pl.Expr) -> WorkingTable:
    """Some rows of a table, with the findings about them."""
    parsed = working.parsed.filter(wanted)
    about_them = pl.col("row").is_in(parsed["_row"].cast(pl.UInt32).implode())
    return replace(
        working, raw=working.raw.filter(wanted), parsed=parsed, findings=working.findings.filter(about_them)
    )


def _content(working: WorkingTable, parsed: pl.DataFrame) -> pl.Series:
    """Everything in each row as one text: its values, and the text of cells that could not be read."""
    names = [name for name in parsed.columns if name not in OWN_COLUMNS]
    values = parsed.select(
        pl.concat_str([pl.col(name).cast(pl.String).fill_null("") for name in names], separator="\u001f").alias("v")
    )
    unread = (
        working.findings.filter(pl.col("kind") == "held back")
        .group_by("row")
        .agg(pl.col("value").fill_null("").str.join("\u001f").alias("unread"))
    )
    rows = parsed.select(pl.col("_row").cast(pl.UInt32).alias("row"))
    unread_text = rows.join(unread, on="row", how="left", maintain_order="left").get_column("unread").fill_null("")
    return values.get_column("v") + "\u001f" + unread_text
