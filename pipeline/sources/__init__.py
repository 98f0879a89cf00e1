"""Files and workbooks to frames of text with their line numbers."""

from pipeline.sources.reading import read_log, read_table
from pipeline.sources.source_table import SourceTable

__all__ = ["SourceTable", "read_log", "read_table"]
