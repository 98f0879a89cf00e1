"""The first step: from files as typed to accepted rows, rows held back with their reasons, and questions.

The way of a cell such as "2-3":

    sources/csv_file.py               reads it as text, with its line; other files and databases likewise
    cleaning/parsed_columns.py         gives it to the reader for its kind of column,
    cleaning/rating_cells.py          which makes it a rating from 2 to 3, or says why it cannot be read
    validating/hard_limits.py         holds its row back where a value cannot be right
    validating/accepted_tables.py     accepts the row, unless something holds it back

`read_inputs.py` is the way in. `validating/table_checks.py` lists all the checks of each table in order.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
