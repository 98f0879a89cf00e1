"""The entry workbook for the bench: what is typed into it is read back without a question."""
