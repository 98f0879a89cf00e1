"""The distinct texts of a column, each read once, and where each row's stands among them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl


@dataclass(frozen=True, slots=True)
class DistinctTexts:
    """A column of n cells.

    texts : its distinct texts in the order of their first rows, null among them where a cell is empty; places : (n,)
    UInt32, each cell's text.
    """

    texts: pl.Series
    places: pl.Series

    def spread(self, read: pl.DataFrame) -> pl.DataFrame:
        """What was read of the distinct texts, for every row."""
        return read[self.places]

    def rows_of(self, read: pl.DataFrame, rows: pl.Series) -> pl.DataFrame:
        """What was read of some of the texts, for the rows that have them.

        read : has `_place`, places of texts; rows : (n,), the rows' own numbers. Adds `_row`, in the order of rows.
        """
        if not read.height:
            return read.with_columns(rows.clear().alias("_row"))
        wanted = self.places.is_in(read.get_column("_place").cast(pl.UInt32).implode())
        here = pl.DataFrame({"_row": rows.filter(wanted), "_place": self.places.filter(wanted)})
        return here.join(read.cast({"_place": pl.UInt32}), on="_place", how="left", maintain_order="left")


def distinct_texts(cells: pl.Series) -> DistinctTexts:
    """The distinct texts of a column, String or Categorical, shape (n,)."""
    coded = cells.cast(pl.Categorical)
    texts = coded.unique(maintain_order=True)
    codes = texts.to_physical().cast(pl.Int64)
    nothing = int(np.max(codes.drop_nulls().to_numpy(), initial=-1)) + 1  # stands for an empty cell
    place_of_code = np.zeros(nothing + 1, dtype=np.uint32)
    place_of_code[codes.fill_null(nothing).to_numpy()] = np.arange(texts.len(), dtype=np.uint32)
    places = pl.Series(place_of_code[coded.to_physical().fill_null(nothing).to_numpy()])
    return DistinctTexts(texts.cast(pl.String), places)
