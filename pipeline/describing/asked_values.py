"""What of the accepted drains is known: a value that is asked about is unknown until its writer has answered.

An unknown value never lengthens an interval. The drain itself remains, and its oil clock restarts at its date.
"""

from __future__ import annotations

import polars as pl

_ASKED = {"hours_in_question": ("oil_hours",)}
"""Columns of drains that say that a question is open, and the columns that are then unknown."""


def known_drains(drains: pl.DataFrame) -> pl.DataFrame:
    """The drains with null in place of what is asked about; the frame itself where nothing is.

    drains : accepted rows. A frame without the columns of questions has none.
    """
    unknown = [
        pl.when(~pl.col(asked)).then(name).alias(name)
        for asked, names in _ASKED.items()
        if asked in drains.columns and drains[asked].any()
        for name in names
    ]
    return drains.with_columns(unknown) if unknown else drains
