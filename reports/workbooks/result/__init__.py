"""tables.xlsx: the result tables as one workbook with real dates and numbers."""
