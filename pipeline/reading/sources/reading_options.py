"""How sources are read: who knows a header, and what of a workbook counts."""

from __future__ import annotations

from dataclasses import dataclass

from draincurve.pipeline.processing import EVERY_LOG, LogProcessing
from draincurve.pipeline.reading.sources.header_row import ColumnsOf, no_columns


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOptions:
    """How sources are read.

    columns_of : names the columns that a row's cells are headers of; by default the first row is the header
    hidden : whether hidden sheets and hidden rows of a workbook are read
    processing : how a large log is held in memory
    """

    columns_of: ColumnsOf = no_columns
    hidden: bool = False
    processing: LogProcessing = EVERY_LOG


DEFAULT_OPTIONS = ReadingOptions()
