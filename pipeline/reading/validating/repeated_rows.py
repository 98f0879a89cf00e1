"""The same drain written twice: identical rows are one, differing ones are both held back."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import OWN_COLUMNS, WorkingTable, found, line_words


def without_duplicates(
    working: WorkingTable, same: tuple[str, ...], what: str, among: pl.Expr | None = None
) -> WorkingTable:
    """Holds back copies and contradictions.

    same : columns that make two rows the same entry; rows with a blank in any of them are left alone, and so are
    rows that do not fit the header, whose cells may be shifted. what : how the reason names them. among : rows to
    look at, all without it. The first of identical rows is kept; rows that differ are all held back, each naming
    the lines of the others.
    """
    wanted = ~pl.col("_row").is_in(working.uneven_rows.implode())
    looked_at = working.typed.select("_row", *same, (wanted if among is None else wanted & among).alias("_wanted"))
    entries_of = looked_at.filter("_wanted").drop_nulls(list(same))
    rows = entries_of.filter(pl.struct(same).is_duplicated())["_row"]
    if not rows.len():
        return working
    twice = working.typed.filter(pl.col("_row").is_in(rows.implode()))
    content = _content(working, twice)
    keyed = twice.select(*same, "_row", line_words().alias("_place")).with_columns(content.alias("_content"))
    entries = [*same, "_content"]
    keyed = keyed.sort("_row").with_columns(pl.col("_row", "_place").first().over(entries).name.prefix("_first"))
    copies = keyed.filter(pl.col("_row") != pl.col("_first_row"))
    different = keyed.filter(pl.col("_content").n_unique().over(same) > 1)
    firsts = different.filter(pl.col("_row") == pl.col("_first_row"))
    others = (
        firsts.join(firsts.select(*same, "_row", "_place"), on=list(same), suffix="_other")
        .filter(pl.col("_row") != pl.col("_row_other"))
        .sort("_row", "_row_other")
        .group_by("_row", maintain_order=True)
        .agg(pl.col("_place_other").str.join(", ").alias("_lines"))
    )
    return working.with_findings(
        _about(working, copies, pl.format("is a copy of line {}: the copy is held back", "_first_place")),
        _about(
            working,
            others,
            pl.format(f"has the same {what} as line {{}}, but differs: keep the right one", "_lines"),
        ),
    )


def _about(working: WorkingTable, rows: pl.DataFrame, message: pl.Expr) -> pl.DataFrame:
    """Findings on the unit of the rows, or on the oil where the table has no units."""
    column = "unit_id" if "unit_id" in working.raw.columns else "oil_grade"
    told = rows.select("_row", message.alias("_message")).join(
        working.raw.select("_row", column), on="_row", how="left"
    )
    return found(told, column, "held back", pl.col("_message"))


def _content(working: WorkingTable, typed: pl.DataFrame) -> pl.Series:
    """All that each row says: its values, and the text of cells that could not be read, as one text."""
    names = [name for name in typed.columns if name not in OWN_COLUMNS]
    values = typed.select(
        pl.concat_str([pl.col(name).cast(pl.String).fill_null("") for name in names], separator="\u001f").alias("v")
    )
    unread = (
        working.findings.filter(pl.col("kind") == "held back")
        .group_by("row")
        .agg(pl.col("value").fill_null("").str.join("\u001f").alias("unread"))
    )
    rows = typed.select(pl.col("_row").cast(pl.UInt32).alias("row"))
    unread_text = rows.join(unread, on="row", how="left", maintain_order="left").get_column("unread").fill_null("")
    return values.get_column("v") + "\u001f" + unread_text
