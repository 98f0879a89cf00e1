"""Questions about cells that name several people, or a part of the names of several."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.two_names import PEOPLE, in_one_cell
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, words_setting

_WHO = {"rider": "who rode most", "rated_by": "whose rating it is"}


def _named(text: str, names: tuple[str, ...], column: str) -> str:
    """Which people a cell names, or which it may be where it is a part of their names."""
    if all(len(name) > len(text) for name in names):
        return "may be " + " or ".join(f"'{name}'" for name in names)
    return in_one_cell(names, PEOPLE[column])


def with_people_questions(drains: WorkingTable) -> WorkingTable:
    """Asks which of several people a cell means, with the column people_in_question.

    The setting proposes no value: pasted unread, it would make one person of them.
    """
    cells, findings = drains.people_in_one_cell, []
    for column, names_by_cell in cells.items():
        texts = pl.DataFrame(
            [
                (
                    text,
                    f"{_named(text, names, column)}: write {_WHO[column]}, or keep it: yes in a column headed "
                    "confirmed if it is one name",
                    words_setting(column, text, "", remark="one of them, or the whole cell if it is one name"),
                )
                for text, names in names_by_cell.items()
            ],
            schema=dict.fromkeys((column, "_message", "_setting"), pl.String),
            orient="row",
        )
        rows = drains.parsed.select("_row", column).join(texts, on=column, maintain_order="left").drop(column)
        message, setting = pl.col("_message"), pl.col("_setting")
        findings.append(drains.about_rows(rows, column, kind="asked", message=message, setting=setting))
    named = [pl.col(column).cast(pl.String).is_in(list(names_by_cell)) for column, names_by_cell in cells.items()]
    asked = pl.any_horizontal(pl.lit(False), *named).fill_null(False) & ~pl.col("confirmed").fill_null(False)
    return drains.with_parsed(drains.parsed.with_columns(asked.alias("people_in_question"))).with_findings(*findings)
