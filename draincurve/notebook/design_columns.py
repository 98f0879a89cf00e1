"""The columns of a design: their names where it is a frame, and the same columns again for new rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from draincurve.pipeline.reading.sources import frame_columns, is_frame
from draincurve.schemas.array_types import Floats
from draincurve.schemas.errors import FitError

NewRows = ArrayLike | Mapping[str, ArrayLike]
"""A frame, an array, or a value or array for each column's name."""


@dataclass(frozen=True, slots=True)
class DesignColumns:
    """Names of a fit's design columns; x1, x2, ... where the design was no frame."""

    names: tuple[str, ...] = ()
    from_frame: bool = False

    def of_rows(self, design: NewRows | None, rows: int) -> Floats:
        """The columns for new rows, (rows, p); a single row given serves for all.

        Raises FitError where columns are missing or the shape does not fit.
        """
        if isinstance(design, Mapping):
            design = pl.DataFrame({name: np.atleast_1d(np.asarray(values)) for name, values in design.items()})
        if design is None:
            matrix = np.empty((1, 0))
        elif is_frame(design):
            matrix = self._columns_by_name(design)
        else:
            matrix = np.asarray(design, dtype=float)
            matrix = matrix[:, None] if matrix.ndim == 1 and len(self.names) == 1 else np.atleast_2d(matrix)
        if matrix.ndim != 2 or matrix.shape[1] != len(self.names) or matrix.shape[0] not in (1, rows):
            raise FitError(
                f"design: expected the columns {', '.join(self.names) or '(none)'}, in one row for all or in {rows}; "
                f"found shape {matrix.shape}"
            )
        return np.broadcast_to(matrix, (rows, len(self.names)))

    def _columns_by_name(self, frame: object) -> Floats:
        columns = dict(frame_columns(frame))
        missing = [name for name in self.names if name not in columns]
        if missing:
            raise FitError(f"design: no column {', '.join(missing)}; the fit had {', '.join(self.names)}")
        return _matrix([(name, columns[name]) for name in self.names])


def design_columns(design: ArrayLike | None) -> tuple[DesignColumns, ArrayLike | None]:
    """Names and values of the design that a model is fitted with.

    Raises FitError for a column of a frame that holds no numbers.
    """
    if design is None:
        return DesignColumns(), None
    if hasattr(design, "to_frame"):  # a series
        design = design.to_frame()
    if is_frame(design):
        columns = frame_columns(design)
        return DesignColumns(tuple(name for name, _ in columns), from_frame=True), _matrix(columns)
    shape = np.shape(design)
    count = shape[1] if len(shape) > 1 else 1
    return DesignColumns(tuple(f"x{index}" for index in range(1, count + 1))), design


def _matrix(columns: list[tuple[str, pl.Series]]) -> Floats:
    for name, column in columns:
        if not (column.dtype.is_numeric() or column.dtype == pl.Boolean):
            raise FitError(
                f"design: column {name} holds {column.dtype}, not numbers; code each level but one as a column of "
                "0 and 1 (in pandas: get_dummies(..., drop_first=True))"
            )
    return np.column_stack([column.cast(pl.Float64).fill_null(np.nan).to_numpy() for _, column in columns])
