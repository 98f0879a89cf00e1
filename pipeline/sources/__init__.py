"""Files and databases to frames of text with their line numbers."""

from pipeline.sources.reading import read_log, read_table
from pipeline.sources.source_address import SourceAddress, source_address
from pipeline.sources.source_table import SourceTable

__all__ = ["SourceAddress", "SourceTable", "read_log", "read_table", "source_address"]
