"""Files and workbooks to frames of text with their line numbers."""
