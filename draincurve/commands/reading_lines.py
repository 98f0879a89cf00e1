"""What was read, as lines on the terminal: row accounting, rows held back, questions and notes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from draincurve.commands.command_line import say

if TYPE_CHECKING:
    import polars as pl

    from draincurve.pipeline.reading import Log, TableAccount

MOST_SETTINGS = 30
"""Lines of settings that are printed."""
MOST_ROWS = 20
"""Findings of one kind that are listed; the others are counted."""


def print_log(log: Log) -> None:
    """Print how many rows were read, held back and asked about, and the commonest questions."""
    from draincurve.reports.content.finding_words import asked_kinds, asked_words

    print_accounts(log.accounts)
    if log.faulty_count:
        say(f"{log.faulty_count:,} {_rows(log.faulty_count)} held back: `draincurve check` shows why")
    asked = asked_words(log)
    if asked:
        say(f"{asked}:")
        for kind in asked_kinds(log):
            say(f"  {kind}", wrap=True)
    print_assumed(log)
    print_notes(log)


def print_accounts(accounts: Iterable[TableAccount]) -> None:
    """Print one line for each table: read = accepted + held back."""
    for account in accounts:
        no_rows = f" ({account.no_rows} of them totals, titles or repeated headers)" if account.no_rows else ""
        say(
            f"{account.table} ({account.source}): read {account.read} = accepted {account.accepted} "
            f"+ held back {account.held_back}{no_rows}"
        )


def print_problems(log: Log) -> None:
    """Print how many rows are held back and asked about, and the commonest problems where they are many."""
    from draincurve.pipeline.reading import MOST_COMMON
    from draincurve.reports.content.finding_words import asked_words, kinds_in_words, problem_kinds

    held = log.faulty_count
    counts = [f"{held:,} {_rows(held)} held back" if held else "", asked_words(log)]
    if any(counts):
        say(", ".join(part for part in counts if part))
    kinds = problem_kinds(log)
    if sum(kind.count for kind in kinds) > MOST_COMMON:
        say("the commonest problems:")
        for line in kinds_in_words(kinds, log, most=MOST_COMMON):
            say(f"  {line}", wrap=True)


def print_assumed(log: Log) -> None:
    """Print how many cells were read by an assumption, and of which columns."""
    from draincurve.reports.content.finding_words import assumed_words

    words = assumed_words(log)
    if words:
        say(f"{words} (`draincurve check --verbose` lists them)", wrap=True)


def print_notes(log: Log) -> None:
    """Print what a reader had to assume about a whole file, such as its encoding, and the columns not used."""
    for row in log.notes.iter_rows(named=True):
        if row["column"] is None:
            say(f"note: {row['source']}: {row['message']}", wrap=True)


def print_settings(log: Log) -> None:
    """Print the settings that would answer questions, as lines to paste into the settings file."""
    from draincurve.reports.content.settings_block import HOW_TO_USE, settings_block

    block = settings_block(log)
    if block:
        for line in ("", *HOW_TO_USE, *block[:MOST_SETTINGS]):
            say(line)
        if len(block) > MOST_SETTINGS:
            say(f"# and {len(block) - MOST_SETTINGS} more lines: --mend OUT.xlsx writes them all")


def print_findings(findings: pl.DataFrame, *, verbose: bool) -> None:
    """Print one line for each finding, or for the first ones unless `verbose`.

    A reason that a row has for several cells is printed once, with all their columns.
    """
    import polars as pl

    rows = findings.group_by("kind", "source", "line", "message", "proposal", maintain_order=True).agg(
        pl.col("column").drop_nulls().str.join(", "), pl.when(pl.len() == 1).then(pl.col("value").first())
    )
    listed = rows if verbose else rows.head(MOST_ROWS)
    for row in listed.iter_rows(named=True):
        say(_line(row), wrap=True)
    more = rows.height - listed.height
    if more:
        say(f"and {more:,} more: --verbose lists them, --mend OUT.xlsx marks them in the log")


def print_held_back(held_back: pl.DataFrame) -> None:
    """Print one line for each row held back: its location, its cells and the reasons."""
    for row in held_back.iter_rows(named=True):
        say(_line({**row, "kind": "held back", "message": row["reason"], "proposal": None}), wrap=True)


def _line(row: dict[str, Any]) -> str:
    from draincurve.reports.content.finding_words import cell_in_words

    where = row["source"] if row["line"] is None else f"{row['source']} line {row['line']}"
    location = ", ".join(part for part in (where, cell_in_words(row["column"], row["value"])) if part)
    perhaps = f" (perhaps {row['proposal']})" if row["proposal"] else ""
    return f"{row['kind']}: {location}: {row['message']}{perhaps}"


def _rows(count: int) -> str:
    return "row" if count == 1 else "rows"
