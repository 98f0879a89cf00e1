"""Questions about volumes: in another unit than the heading's, unlike the unit's others, or more out than in.

Until its question is answered a row's volumes are not known: they enter no volume balance, and old oil that may have
stayed behind explains no dirt.
"""

from __future__ import annotations

import re

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.note_doubts import VOLUME_IN_DOUBT
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.usual_values import median_of_others
from draincurve.schemas.input_tables import MOST_RETURNED
from draincurve.schemas.service_kinds import is_oil_change

LOW_RETURN, HIGH_RETURN = 0.8, 1.03
"""Drained over filled: below the first, oil is missing; above the second, more came out than went in."""
FAR_APART = 5.0
"""Volumes of one unit that differ so many times are of two chambers, or in two units."""
LEAST_ML = 5.0
"""No chamber takes less [ml]: litres."""
_UNITS = {"l": 1000.0, "fl oz": 29.5735, "cl": 10.0}
"""Millilitres in the units that a volume may be in."""
_MOSTLY = 0.5
_UNIT_BEHIND = re.compile(r"(?i)[\s_,(\[]+(?:ml|cc|ccm|cm3)[)\]]?\s*$")
"""The unit that a header names at its end."""
_COLUMNS = ("filled_ml", "drained_ml")
_NOTED = "the note doubts a volume, so it is not known: empty that cell, or keep it: yes in a column headed confirmed"
_ANSWER = "Correct the cell, or keep it: yes in a column headed confirmed"


def with_volume_questions(drains: WorkingTable) -> WorkingTable:
    """Asks about volumes, with the columns volumes_in_question and return_in_question.

    The second marks drains at which little came out. Their volumes stand, since oil may be missing. A row with a slip
    in a cell lengthens nothing, so its hours count as if they were asked about too.
    """
    kept = drains.parsed_where(
        ~drains.is_held_back & is_oil_change(),
        "_row",
        "unit_key",
        *_COLUMNS,
        "leak",
        pl.col("confirmed").fill_null(False),
        pl.col("note").str.contains(VOLUME_IN_DOUBT).fill_null(False).alias("_noted"),
    )
    cells = _cells(kept)
    litres = [name for name in _COLUMNS if _mostly_litres(cells.filter(pl.col("column") == name))]
    asked = _unusual(cells.filter(~pl.col("column").is_in(litres))).filter(~pl.col("confirmed"))
    pieces = [_whole_column(drains, name) for name in litres]
    pieces += [_about_cells(drains, asked, name) for name in _COLUMNS]
    share = pl.col("drained_ml") / pl.col("filled_ml")
    others = kept.filter(~pl.col("_row").is_in(asked["_row"].implode()))
    more = others.filter(share.is_between(HIGH_RETURN, MOST_RETURNED, closed="right"))
    less = others.filter(share < LOW_RETURN)
    percent = (share * 100).round(0).cast(pl.Int64, strict=False)
    too_much = pl.format(f"more oil came out than went in: {{}} %. Was it measured right? {_ANSWER}", percent)
    leaks = pl.when(pl.col("leak").fill_null(False)).then(pl.lit("")).otherwise(pl.lit(", or does it leak"))
    too_little = pl.format("little oil came out: {} %. Was it drained fully{}?", percent, leaks)
    pieces += [
        drains.about_rows(
            rows.select("_row", text.alias("_text")), "drained_ml", kind="asked", message=pl.col("_text")
        )
        for rows, text in ((more, too_much), (less, too_little))
    ]
    noted = kept.filter(pl.col("_noted") & ~pl.col("confirmed") & pl.any_horizontal(pl.col(_COLUMNS).is_not_null()))
    pieces.append(drains.about_rows(noted.drop(*_COLUMNS), "note", kind="asked", message=_NOTED))
    unknown = [asked["_row"], noted["_row"], more.filter(~pl.col("confirmed"))["_row"]]
    unknown += [cells.filter((pl.col("column") == name) & ~pl.col("confirmed"))["_row"] for name in litres]
    marks = {
        "volumes_in_question": pl.concat(unknown).unique(),
        "return_in_question": less.filter(~pl.col("confirmed"))["_row"],
    }
    slip = pl.col("_row").is_in(asked["_row"].unique().implode())
    cautious = pl.when(slip & ~pl.col("hours_in_question")).then("oil_hours").otherwise("cautious_hours")
    marked = drains.parsed.with_columns(
        *[pl.col("_row").is_in(rows.implode()).alias(name) for name, rows in marks.items()],
        (pl.col("hours_in_question") | slip).alias("hours_in_question"),
        cautious.alias("cautious_hours"),
    )
    return drains.with_parsed(marked).with_findings(*pieces)


def _cells(kept: pl.DataFrame) -> pl.DataFrame:
    """Every volume as a row: _row, unit_key, confirmed, column, volume [ml]."""
    return kept.unpivot(
        _COLUMNS, index=["_row", "unit_key", "confirmed"], variable_name="column", value_name="volume"
    ).filter((pl.col("volume") > 0) & pl.col("unit_key").is_not_null())


def _mostly_litres(cells: pl.DataFrame) -> bool:
    return bool(cells.height and (cells["volume"] < LEAST_ML).sum() > _MOSTLY * cells.height)


def _whole_column(drains: WorkingTable, name: str) -> pl.DataFrame:
    header = drains.headers.get(name, name)
    plain = _UNIT_BEHIND.sub("", header)
    message = (
        f"volumes under {LEAST_ML:g} ml at most drains: are they litres? Then write '{plain} l' above them. "
        "Until then no volume of the column is known"
    )
    return file_finding(name, header, kind="asked", message=message)


def _unusual(cells: pl.DataFrame) -> pl.DataFrame:
    """Cells to ask about, with the unit's usual volume as _usual [ml], null where it has no other."""
    span = cells.group_by("unit_key").agg(pl.col("volume").min().alias("least"), pl.col("volume").max().alias("most"))
    wide = span.filter((pl.col("least") < LEAST_ML) | (pl.col("most") >= FAR_APART * pl.col("least")))
    cells = cells.filter(pl.col("unit_key").is_in(wide["unit_key"].implode()))
    _, units = np.unique(cells["unit_key"].hash().to_numpy(), return_inverse=True)
    volumes = cells["volume"].to_numpy()
    usual = median_of_others(volumes, units, counted=volumes >= LEAST_ML)
    ratio = pl.col("volume") / pl.col("_usual")
    return cells.with_columns(pl.Series("_usual", usual, nan_to_null=True)).filter(
        (pl.col("volume") < LEAST_ML) | (ratio >= FAR_APART) | (ratio <= 1 / FAR_APART)
    )


def _about_cells(drains: WorkingTable, asked: pl.DataFrame, name: str) -> pl.DataFrame:
    rows = asked.filter(pl.col("column") == name)
    usual = pl.col("_usual").fill_null(pl.col("volume") * _UNITS["l"])
    message = (
        pl.when(pl.col("volume") < LEAST_ML)
        .then(pl.lit(f"volume looks like litres: the column is in ml. {_ANSWER}"))
        .otherwise(
            pl.format(
                f"volume {FAR_APART:g} times off the unit's others: usually {{}} ml. {_ANSWER}",
                pl.col("_usual").round(0).cast(pl.Int64),
            )
        )
    )
    converted = pl.coalesce(
        pl.when((pl.col("volume") * factor / usual).is_between(0.5, 2.0)).then(pl.col("volume") * factor)
        for factor in (*_UNITS.values(), 0.1)
    )
    return drains.about_rows(
        rows.select("_row", message.alias("_text"), converted.round(0).cast(pl.Int64).cast(pl.String).alias("_ml")),
        name,
        kind="asked",
        message=pl.col("_text"),
        proposal=pl.col("_ml"),
    )
