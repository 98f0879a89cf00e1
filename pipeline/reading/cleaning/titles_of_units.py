"""Tables in which a title names the unit of the rows below it: a line "F01", its drains, a line "F02" and so on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import GivenHeaders, match_header
from draincurve.pipeline.reading.cleaning.row_kinds import TITLE_COLUMNS
from draincurve.pipeline.reading.sources.sheets_of_units import lacks_only_the_unit, may_be_a_unit
from draincurve.pipeline.reading.sources.source_table import SourceTable

HEADER = "Unit"
"""Header of the column that holds the unit's name where the table has none."""
FEWEST_UNITS = 2
"""Units that titles name, from which they are no mere titles."""
LONGEST = 64
"""Characters of a unit's name at most."""
_MOST_SHOWN = 6
_RUN = re.compile(r"[^\W\d_]+|\d+")


def with_titles_as_units(
    source: SourceTable, given: GivenHeaders | None = None
) -> tuple[SourceTable, tuple[int, ...]]:
    """The table with the unit in each row, and the rows that are titles; as it is, and none, for any other table.

    Every line with one cell must look like the name of a unit, in one form, with one above the first row as well; and
    no other row may have a unit: the column is missing or blank. given : the settings' headers
    """
    headers = source.typed_headers
    matches = [match_header(header, source.table, given) for header in headers]
    columns = ["" if match is None else match.column for match in matches]
    unit = source.cell_columns[columns.index("unit_id")] if "unit_id" in columns else None
    if source.table != "drains" or not lacks_only_the_unit(set(columns) - {"unit_id"}):
        return source, ()
    if unit is not None and 2 * source.frame[unit].null_count() <= source.frame.height:
        return source, ()
    cells = [pl.col(name).cast(pl.String).str.strip_chars().replace("", None) for name in source.cell_columns]
    lines = source.frame.select(
        pl.coalesce(cells[:TITLE_COLUMNS]).str.strip_chars_end(" :").alias("title"),
        pl.sum_horizontal(cell.is_not_null() for cell in cells).alias("filled"),
        pl.any_horizontal(cell.str.contains(r"\d").fill_null(False) for cell in cells).alias("has_digits"),
        (cells[source.cell_columns.index(unit)] if unit is not None else pl.lit(None, pl.String)).alias("unit"),
    )
    lone = lines["filled"] == 1
    titles = lines["title"].filter(lone)
    above = _title_above(source)
    shown = list(dict.fromkeys(([] if above is None else [above]) + titles.to_list()))
    typed = lines.filter(~lone)["unit"].count()
    if typed or not titles.len() or len(shown) < FEWEST_UNITS or not _are_units(shown):
        return source, ()
    names = pl.when(lone.alias("lone")).then("title").forward_fill().fill_null(pl.lit(above, pl.String))
    named = lines.select(pl.when((pl.col("filled") > 1) & pl.col("has_digits")).then(names)).to_series()
    if named.count() < ((lines["filled"] > 1) & lines["has_digits"]).sum():
        return source, ()
    column = unit or next(name for name in (HEADER, f"{HEADER} (title)") if name not in source.frame.columns)
    frame = source.frame.with_columns(named.alias(column))
    notes = (*source.notes, _note(shown))
    with_units = replace(source, frame=frame, headers=headers if unit else (*headers, HEADER), notes=notes)
    return with_units, tuple(lone.arg_true())


def _are_units(titles: Sequence[str | None]) -> bool:
    """Whether titles may be units, and are of one form, such as letters and a number."""
    forms = {_RUN.sub(lambda run: "0" if run.group().isdecimal() else "a", title) for title in titles if title}
    return None not in titles and len(forms) == 1 and all(map(_is_a_unit, titles))


def _is_a_unit(title: str | None) -> bool:
    return title is not None and len(title) <= LONGEST and may_be_a_unit(title)


def _title_above(source: SourceTable) -> str | None:
    """The unit that the last line above the header names, if it names one."""
    above = [line for line in source.beside if not line.hidden]
    title = above[-1].cells[0][1].strip().rstrip(" :") if above and len(above[-1].cells) == 1 else None
    return title if _is_a_unit(title) else None


def _note(names: Sequence[str]) -> str:
    shown = ", ".join(f"'{name}'" for name in names[:_MOST_SHOWN])
    more = f" and {len(names) - _MOST_SHOWN} more" if len(names) > _MOST_SHOWN else ""
    return f"no column for the unit: titles above the rows are read as units, {shown}{more}"
