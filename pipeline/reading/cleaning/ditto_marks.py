"""Ditto marks: cells that repeat the cell above them."""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.pipeline.reading.cleaning.working_table import FindingKind, row_findings

_MARKS = (
    *('"', '""', "''", "``", "〃", "″", "“", "”", "„", "‟", "’’", ",,", ",,,"),
    *('-"-', "-„-", '- " -', '—"—', '–"–', "-''-", "-,,-"),
)
_WORDS = (
    *("ditto", "dito", "dto", "dto.", "do.", "id.", "idem", "ídem", "same", "as above", "s. o.", "s.o.", "wie oben"),
    *("ebenso", "dasselbe", "comme ci-dessus", "igual", "como arriba", "come sopra", "c.s."),
)
_SHORT_WORDS = ("do", "id")
"""Ditto marks too, but not where people are named, since they may be somebody's initials."""


def ditto_marks(column: str) -> frozenset[str]:
    """What repeats the cell above in a column, in lower case."""
    people = column in ("rider", "rated_by")
    return frozenset((*_MARKS, *_WORDS, *(() if people else _SHORT_WORDS)))


def without_dittos(
    column: str, texts: pl.Series, positions: pl.Series, *, rows: pl.Series
) -> tuple[pl.Series, list[pl.DataFrame]]:
    """Positions of the texts that each cell means once ditto marks are resolved, and findings about the marks.

    texts : String, the distinct texts of a column. positions : UInt32, shape (n,), of each cell's text. rows : `_row`
    of each cell. A mark below an empty cell, or in the first row, is held back.
    """
    marks = ditto_marks(column)
    wordlike = (~texts.str.contains("[0-9]")).fill_null(False)  # no mark has a digit
    is_mark = np.zeros(texts.len(), dtype=bool)
    is_mark[wordlike.arg_true()] = [" ".join(text.split()).lower() in marks for text in texts.filter(wordlike)]
    if not is_mark.any():
        return positions, []
    codes = positions.to_numpy()
    ditto = is_mark[codes]
    above = np.maximum.accumulate(
        np.where(ditto, -1, np.arange(codes.size))
    )  # last cell that is no mark, -1 for none
    meant = np.where(above < 0, codes, codes[np.maximum(above, 0)])
    blank = np.array([text is None or is_blank(text) for text in texts], dtype=bool)
    lost = ditto & ((above < 0) | blank[meant])
    findings = []
    kinds: tuple[tuple[FindingKind, np.ndarray], ...] = (("held back", lost), ("note", ditto & ~lost))
    for kind, which in kinds:
        if which.any():
            positions_found = pl.Series(np.flatnonzero(which))
            about = pl.DataFrame(
                {
                    "_row": rows[positions_found],
                    column: texts[positions[positions_found]],
                    "_meant": texts[pl.Series(meant)[positions_found]],
                }
            )
            repeats = pl.format("repeats the cell above: '{}'", "_meant")
            message = "repeats the cell above, which is empty: write it out" if kind == "held back" else repeats
            findings.append(row_findings(about, column, kind=kind, message=message))
    return pl.Series(meant.astype(np.uint32)), findings
