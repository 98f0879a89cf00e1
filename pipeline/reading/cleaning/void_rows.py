"""Rows that their writer has taken back in words: "void" in a column of their own, "typed twice" in a note."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import joined_findings, row_findings
from draincurve.pipeline.reading.sources.source_table import SourceTable

_TAKEN_BACK = (
    "void(?:ed)?|cancell?ed|deleted|invalid|not valid|ignored?|duplicate|storniert|gelöscht|ungültig|doppelt|annulée?"
    "|supprimée?|anulad[oa]|cancelad[oa]|borrad[oa]|annullat[oa]|eliminat[oa]|cancellat[oa]"
)
_NOT_DONE = "planned|scheduled|to ?do|not done|geplant|prévue?|previst[oa]|planificad[oa]|pianificat[oa]"
_EXAMPLE = "example(?: row| line| only| entry)?|beispiel(?:zeile)?|exemple|ejemplo|esempio"
_WRONG = (
    "(?:typed|entered|logged) twice|duplicate of|doppelt (?:eingetragen|getippt)|ignore (?:this|row|line|entry)"
    "|wrong (?:unit|fork|leg|shock|bike|date|hours|row|line|entry)|falsche[rs]? (?:einheit|gabel|datum|zeile)"
)
CELL = rf"(?i)^\W*(?:{_TAKEN_BACK}|{_NOT_DONE}|{_EXAMPLE})\W*$"
"""A cell that says nothing else."""
_IN_A_NOTE = rf"void(?:ed)?|cancell?ed|deleted|storniert|gelöscht|ungültig|annulée?|anulado|annullato|{_WRONG}"
NOTE = rf"(?i)^\W*(?:{_IN_A_NOTE})(?:\W|$)"
"""The beginning of a note."""
MOST_STATES = 50
"""Different cells of a column that says what became of each row; a column with more of them says something else."""
_MESSAGE = "says that the row does not count: delete the row, or this word if it does count"


def void_findings(source: SourceTable, columns: Mapping[str, str]) -> pl.DataFrame:
    """Findings that hold back such rows of a file.

    columns : contract's column of each header that is used; notes and columns that are not known are looked at
    """
    findings = []
    for name in source.cell_columns:
        column = columns.get(name, name)
        if name in columns and column != "note":
            continue
        cells = source.frame.get_column(name).cast(pl.String)
        if column != "note" and cells.head(10 * MOST_STATES).n_unique() > MOST_STATES:
            continue
        says = cells.str.contains(f"{CELL}|{NOTE}" if column == "note" else CELL)
        rows = pl.DataFrame({"_row": pl.int_range(cells.len(), eager=True, dtype=pl.UInt32), column: cells})
        findings.append(row_findings(rows.filter(says), column, kind="held back", message=_MESSAGE))
    return joined_findings(findings)
