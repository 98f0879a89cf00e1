"""Files and databases to frames of text with their line numbers."""

from draincurve.pipeline.reading.sources.addresses import SourceAddress, source_address
from draincurve.pipeline.reading.sources.read_tables import read_log, read_table
from draincurve.pipeline.reading.sources.source_table import SourceTable

__all__ = ["SourceAddress", "SourceTable", "read_log", "read_table", "source_address"]
