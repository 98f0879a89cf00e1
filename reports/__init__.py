"""Reports: figures, content, tables, workbooks, the page, the printed edition, mail and calendar."""
