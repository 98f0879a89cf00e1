"""The log as a workbook to mend: each cell that was held back or asked about marked, with its reason beside it."""
